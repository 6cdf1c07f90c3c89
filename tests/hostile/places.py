"""Where a web server may try to send us, and where an output may be made to go."""

from __future__ import annotations

import os
from pathlib import Path

import loopback

from passes.errors import PassesError
from passes.options.files import check_writable, write_whole

_ELSEWHERE = "within a private network"

#: Where to, and what must be said; the server itself is on 127.0.0.1.
REDIRECTS = {
    "file:///etc/passwd": "not https",
    "file://localhost/etc/passwd": "not https",
    "ftp://127.0.0.1/sets": "not https",
    "http://example.org/sets": "not https",
    "http://127.0.0.2:9/sets": _ELSEWHERE,
    "https://127.0.0.2/sets": _ELSEWHERE,
    "https://localhost/sets": _ELSEWHERE,
    "https://10.0.0.1/sets": _ELSEWHERE,
    "https://172.16.3.4/sets": _ELSEWHERE,
    "https://192.168.1.1/admin": _ELSEWHERE,
    "https://169.254.169.254/latest/meta-data": _ELSEWHERE,
    "https://[::1]/sets": _ELSEWHERE,
    "https://[fe80::1]/sets": _ELSEWHERE,
    "https://[fd00::1]/sets": _ELSEWHERE,
    "https://[::ffff:10.0.0.1]/sets": _ELSEWHERE,
    "https://2130706433/sets": _ELSEWHERE,
    "https://0x7f.1/sets": _ELSEWHERE,
    "https://0/sets": _ELSEWHERE,
}


def redirected(location: str) -> str:
    """What is said to a server that sends on to there."""
    from passes.contributions import ElementQuery
    from passes_plugins import web_source

    with loopback.serving() as server:
        server.says(loopback.sends(b"", 302, Location=location))
        settings = {"url": server.url, "tries": 1, "read_s": 20.0, "total_s": 60.0}
        try:
            web_source.fetch(ElementQuery(name="club", settings=settings))
        except PassesError as error:
            return str(error)
    return "followed"


def _write(path: Path) -> str:
    try:
        check_writable(path)
        write_whole(path, b"new")
    except PassesError as error:
        return str(error).partition(": ")[2].partition(";")[0]
    return "written"


def linked_outputs(folder: Path) -> dict[str, tuple[str, str]]:
    """Each kind of link as ``--output``: what is said, and what then lies where."""
    found: dict[str, tuple[str, str]] = {}
    target, link = folder / "target", folder / "link"

    def attempt(what: str, path: Path = link) -> None:
        said = _write(path)
        kept = "link kept" if path.is_symlink() else "no link"
        there = target.read_text() if target.is_file() else "nothing"
        found[what] = said, f"{kept}, target: {there}"
        link.unlink(missing_ok=True)

    target.write_text("old")
    link.symlink_to("target")
    attempt("a link to a file")
    target.unlink()
    link.symlink_to(target)
    attempt("a link to what is not there")
    target.write_text("old")
    os.link(target, link)
    attempt("a second name of a file (hard link)")
    link.symlink_to(folder)
    attempt("a link to a folder")
    link.symlink_to(link)
    attempt("a link to itself")
    link.symlink_to("/dev/null")
    attempt("a link to a device")
    return found


def anothers_link(folder: Path) -> tuple[str, str]:
    """A link that another user laid into a shared folder; needs to be root."""
    shared, secret = folder / "shared", folder / "secret"
    shared.mkdir()
    shared.chmod(0o1777)
    secret.write_text("old")
    link = shared / "link"
    link.symlink_to(secret)
    os.chown(link, 12_345, 12_345, follow_symlinks=False)
    return _write(link), secret.read_text()
