"""Where a source may be: on https, and where the person said."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from ipaddress import IPv4Address, IPv6Address, ip_address
from urllib.parse import urlsplit

from passes_plugins.web_source.troubles import SourceError


def check_address(url: str, before: str = "") -> None:
    """Only https, but for this machine itself; never from https back to http."""
    try:
        parts = urlsplit(url)
        host = parts.hostname or ""
    except ValueError as error:
        raise SourceError(f"{url}: no such address can be ({error})") from error
    if parts.scheme == "https" and host:
        return
    if parts.scheme == "http" and _is_here(host) and not before.startswith("https:"):
        return
    whence = f"{before} sends on to {url}: " if before else f"{url}: "
    raise SourceError(f"{whence}not https, so anybody could change what comes")


def check_public(url: str, before: str, asked: str) -> None:
    """Nobody but the person sends us to a machine of a private network."""
    host = urlsplit(url).hostname or ""
    if host != urlsplit(asked).hostname and any(map(_is_private, _addresses(host))):
        raise SourceError(
            f"{before} sends on to {url}: within a private network; if you mean it, "
            "make it the source's url"
        )


def _addresses(host: str) -> Iterator[IPv4Address | IPv6Address]:
    """All that a name stands for (numbers in any spelling too); none if unknown."""
    import socket

    with suppress(OSError, UnicodeError):
        for found in socket.getaddrinfo(host, None, type=socket.SOCK_STREAM):
            yield ip_address(str(found[4][0]).partition("%")[0])


def _is_private(address: IPv4Address | IPv6Address) -> bool:
    inner = getattr(address, "ipv4_mapped", None) or address
    return not inner.is_global or inner.is_multicast


def _is_here(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
