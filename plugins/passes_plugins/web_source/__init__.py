"""An element source: a file on a web server, fetched politely and never by halves.

Settings of a source: ``url`` and, where the usual ones do not serve, ``total_s`` and
``read_s`` (time-outs), ``tries``, ``wait_s`` (the first pause between tries; each
further one is twice as long) and ``ca_file`` (certificates to trust).
"""

from __future__ import annotations

import time
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import urljoin

from passes.contributions import ElementSource
from passes.errors import InputError
from passes.hookspecs import hookimpl
from passes_plugins.web_source.addresses import check_address, check_public
from passes_plugins.web_source.troubles import SourceError, broken, refusal

if TYPE_CHECKING:
    import httpx

    from passes.contributions import ElementBatch, ElementQuery

_MOST_REDIRECTS = 5
#: Pauses longer than this are not slept through but told, seconds.
_LONGEST_PAUSE_S = 20.0
#: No time-out or pause is longer, s, no number of tries larger.
_MOST = 3600


@dataclass(frozen=True, slots=True)
class _Wants:
    """A source's settings, checked."""

    url: str
    total_s: float
    read_s: float
    tries: int
    wait_s: float
    ca_file: str


def fetch(query: ElementQuery) -> ElementBatch:
    """Fetch one file; SourceError in one line where that does not work."""
    wants = _wanted(query.settings)
    check_address(wants.url)
    deadline = time.monotonic() + wants.total_s
    for attempt in range(1, wants.tries + 1):
        try:
            return _once(query, wants, deadline)
        except SourceError as error:
            pause_s = error.retry_after_s or wants.wait_s * 2.0 ** (attempt - 1)
            late = time.monotonic() + pause_s > deadline
            hopeless = not error.again or attempt == wants.tries
            if hopeless or late or pause_s > _LONGEST_PAUSE_S:
                raise
            time.sleep(pause_s)
    raise AssertionError("the last try returns or raises")


def _wanted(settings: Mapping[str, Any]) -> _Wants:
    url = settings.get("url")
    if not isinstance(url, str) or not url.strip():
        raise InputError("the source has no url; add one to the configuration")
    numbers = {}
    usual = {"total_s": 120.0, "read_s": 20.0, "tries": 3, "wait_s": 2.0}
    for key, default in usual.items():
        value = settings.get(key, default)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0.0 <= value <= _MOST:
            raise InputError(f"{key} must be a number from 0 to {_MOST}, not {value!r}")
        numbers[key] = float(value)
    return _Wants(
        url=url.strip(),
        total_s=numbers["total_s"],
        read_s=numbers["read_s"],
        tries=max(1, int(numbers["tries"])),
        wait_s=numbers["wait_s"],
        ca_file=str(settings.get("ca_file", "")),
    )


def _once(query: ElementQuery, wants: _Wants, deadline: float) -> ElementBatch:
    """One try, redirects followed by hand."""
    import httpx

    url = wants.url
    try:
        with httpx.Client(
            timeout=httpx.Timeout(wants.read_s), verify=_trusted(wants.ca_file)
        ) as client:
            for _ in range(_MOST_REDIRECTS + 1):
                with client.stream("GET", url, headers=_headers(query)) as response:
                    if not response.has_redirect_location:
                        return _batch(query, url, response, deadline, wants)
                    onward = urljoin(url, response.headers["location"])
                    check_address(onward, url)
                    check_public(onward, url, wants.url)
                    url = onward
    except httpx.TimeoutException as error:
        raise SourceError(
            f"{url}: no answer within {wants.read_s:g} s", again=True
        ) from error
    except (httpx.HTTPError, httpx.InvalidURL, httpx.StreamError) as error:
        raise broken(url, error) from error
    raise SourceError(f"{url}: sends on more than {_MOST_REDIRECTS} times", heard=True)


def _trusted(ca_file: str) -> Any:
    import ssl

    try:
        return ssl.create_default_context(cafile=ca_file) if ca_file else True
    except OSError as error:
        raise InputError(f"ca_file {ca_file}: {error.strerror or error}") from error


def _headers(query: ElementQuery) -> dict[str, str]:
    from passes import __version__

    headers = {"User-Agent": f"passes/{__version__}", "Accept-Encoding": "gzip"}
    asked = {"etag": "If-None-Match", "last_modified": "If-Modified-Since"}
    for key, header in asked.items():
        if value := query.validators.get(key):
            headers[header] = value
    return headers


def _batch(
    query: ElementQuery,
    url: str,
    response: httpx.Response,
    deadline: float,
    wants: _Wants,
) -> ElementBatch:
    from passes.contributions import ElementBatch

    status = response.status_code
    if status == 304:
        return ElementBatch(
            origin=url, unchanged=True, validators=dict(query.validators)
        )
    if status != 200:
        raise refusal(url, response)
    content = bytearray()
    for piece in _pieces(query, url, response, deadline, wants):
        content += piece
        if len(content) > query.max_bytes:
            raise SourceError(
                f"{url}: more than {query.max_bytes / 2**20:.0f} MiB; not kept",
                heard=True,
            )
    known = {"etag": "etag", "last_modified": "last-modified"}
    validators = {
        key: response.headers[header]
        for key, header in known.items()
        if header in response.headers
    }
    return ElementBatch(content=bytes(content), origin=url, validators=validators)


def _pieces(
    query: ElementQuery,
    url: str,
    response: httpx.Response,
    deadline: float,
    wants: _Wants,
) -> Iterator[bytes]:
    """The body piece by piece, expanded; whole or SourceError."""
    encoding = response.headers.get("content-encoding", "identity").lower()
    if encoding not in ("identity", "gzip", "x-gzip"):
        raise SourceError(f"{url}: packed as {encoding!r}, which was not asked for")
    expand = None if encoding == "identity" else zlib.decompressobj(wbits=31)
    length = response.headers.get("content-length", "")
    total = int(length) if length.isdecimal() else None
    came = 0
    for raw in response.iter_raw():  # as it comes, so that the clock is looked at
        came += len(raw)
        if query.progress is not None:
            query.progress(came, total)
        if time.monotonic() > deadline:
            raise SourceError(
                f"{url}: not all came within {wants.total_s:g} s", heard=True
            )
        yield raw if expand is None else _expanded(url, expand, raw, query.max_bytes)
    if expand is not None and not expand.eof:
        raise SourceError(f"{url}: cut off on the way", heard=True, again=True)


def _expanded(url: str, expand: Any, raw: bytes, most: int) -> bytes:
    try:
        piece: bytes = expand.decompress(raw, most + 1)
    except zlib.error as error:
        raise SourceError(f"{url}: damaged on the way ({error})", again=True) from error
    return piece


@hookimpl
def passes_element_sources() -> Iterator[ElementSource]:
    """Offer files on web servers."""
    yield ElementSource(
        name="http", summary="Element sets from a web server.", fetch=fetch
    )
