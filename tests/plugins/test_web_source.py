"""Fetching from a web server, held against a real one that behaves badly."""

from __future__ import annotations

import gzip
import shutil
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import loopback
import pytest

from passes.contributions import ElementBatch, ElementQuery
from passes.errors import InputError
from passes.testing import check_plugin
from passes.testing.elements import element_text
from passes_plugins import web_source

BODY = element_text().encode()
#: Short pauses, so that the tests end soon.
QUICK = {"read_s": 60.0, "total_s": 120.0, "wait_s": 0.01}


@pytest.fixture(autouse=True)
def _no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_PROXY", "127.0.0.1,localhost")


@pytest.fixture
def server() -> Iterator[loopback.Server]:
    with loopback.serving() as one:
        yield one


@pytest.fixture(scope="session")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A certificate for 127.0.0.1 that nobody has vouched for, made now."""
    if shutil.which("openssl") is None:
        pytest.skip("no openssl to make a certificate with")
    folder = tmp_path_factory.mktemp("certificate")
    command = (
        "openssl req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=invented "
        "-addext subjectAltName=IP:127.0.0.1 -keyout key.pem -out cert.pem"
    )
    subprocess.run(command.split(), cwd=folder, check=True, capture_output=True)
    both = folder / "both.pem"
    both.write_text(
        (folder / "key.pem").read_text() + (folder / "cert.pem").read_text()
    )
    return both


def fetch(url: str, validators: Any = (), **settings: Any) -> ElementBatch:
    max_bytes = settings.pop("max_bytes", 1_000_000)
    query = ElementQuery(
        name="club",
        settings={"url": url, **QUICK, **settings},
        validators=dict(validators),
        max_bytes=max_bytes,
    )
    return web_source.fetch(query)


def refused(url: str, **settings: Any) -> web_source.SourceError:
    with pytest.raises(web_source.SourceError) as told:
        fetch(url, **settings)
    assert len(str(told.value).splitlines()) == 1
    return told.value


def test_it_is_a_sound_plugin() -> None:
    checkup = check_plugin(web_source)
    assert checkup.findings == ()


def test_good(server: loopback.Server) -> None:
    server.says(loopback.sends(BODY, ETag='"v1"', Last_Modified="some day"))
    batch = fetch(f"{server.url}/sets?GROUP=all")
    assert batch.content == BODY
    assert batch.validators == {"etag": '"v1"', "last_modified": "some day"}
    assert server.seen[0]["path"] == "/sets?GROUP=all"
    assert server.seen[0]["user-agent"].startswith("passes/")


def test_not_modified(server: loopback.Server) -> None:
    server.says(loopback.sends(b"", 304))
    kept = {"etag": '"v1"', "last_modified": "some day"}
    batch = fetch(server.url, kept)
    assert batch.unchanged
    assert batch.validators == kept
    assert server.seen[0]["if-none-match"] == '"v1"'
    assert server.seen[0]["if-modified-since"] == "some day"


def test_gzip(server: loopback.Server) -> None:
    server.says(loopback.packed(BODY))
    assert fetch(server.url).content == BODY


def test_progress_is_told(server: loopback.Server) -> None:
    server.says(loopback.sends(BODY))
    seen: list[tuple[int, int | None]] = []
    query = ElementQuery(
        name="club",
        settings={"url": server.url},
        progress=lambda came, total: seen.append((came, total)),
    )
    web_source.fetch(query)
    assert seen[-1] == (len(BODY), len(BODY))


@pytest.mark.parametrize(
    ("status", "words", "asked"),
    [(403, "it refuses", 1), (404, "no such page", 1), (401, "login", 1)],
)
def test_a_refusal_is_not_tried_again(
    server: loopback.Server, status: int, words: str, asked: int
) -> None:
    server.says(loopback.sends(b"go away", status))
    error = refused(server.url)
    assert f"HTTP {status}: " in str(error)
    assert words in str(error)
    assert error.heard
    assert len(server.seen) == asked


@pytest.mark.parametrize("status", [429, 500, 502, 503])
def test_trouble_is_tried_again_and_then_told(
    server: loopback.Server, status: int
) -> None:
    server.says(loopback.sends(b"", status))
    assert f"HTTP {status}" in str(refused(server.url))
    assert len(server.seen) == 3


def test_trouble_that_passes(server: loopback.Server) -> None:
    server.says(loopback.in_turn(loopback.sends(b"", 500), loopback.sends(BODY)))
    assert fetch(server.url).content == BODY
    assert len(server.seen) == 2


def test_pauses_grow(server: loopback.Server) -> None:
    server.says(loopback.sends(b"", 500))
    pauses: list[float] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(web_source.time, "sleep", pauses.append)
        refused(server.url, tries=4, wait_s=0.5)
    assert pauses == [0.5, 1.0, 2.0]


def test_a_long_wait_is_told_and_not_slept(server: loopback.Server) -> None:
    server.says(loopback.sends(b"", 429, Retry_After="3600"))
    error = refused(server.url)
    assert error.retry_after_s == 3600.0
    assert "left alone for 3600 s" in str(error)
    assert len(server.seen) == 1


def test_without_a_network_the_reason_has_no_number(monkeypatch) -> None:
    def unknown(*_: Any, **__: Any) -> None:
        raise socket.gaierror(-3, "Temporary failure in name resolution")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    error = refused("https://sets.invalid/all.tle", tries=1)
    assert str(error) == (
        "https://sets.invalid/all.tle: cannot be reached "
        "(Temporary failure in name resolution)"
    )


def test_slow_to_answer(server: loopback.Server) -> None:
    server.says(loopback.slowly(BODY, first_s=60.0))
    error = refused(server.url, read_s=0.1, tries=1)
    assert "no answer within 0.1 s" in str(error)
    assert not error.heard


def test_slow_without_end(server: loopback.Server) -> None:
    server.says(loopback.slowly(BODY * 100, each_s=0.05))
    error = refused(server.url, total_s=0.3, tries=1)
    assert "not all came within 0.3 s" in str(error)


def test_cut_off_half_way(server: loopback.Server) -> None:
    server.says(loopback.cut_off(BODY[: len(BODY) // 2], len(BODY)))
    assert "cut off on the way" in str(refused(server.url))
    assert len(server.seen) == 3


def test_gzip_cut_off_without_an_announced_length(server: loopback.Server) -> None:
    half = gzip.compress(BODY)[:-20]

    def answer(handler: Any) -> None:
        handler.send_response(200)
        handler.send_header("Content-Encoding", "gzip")
        handler.send_header("Connection", "close")
        handler.end_headers()
        handler.wfile.write(half)
        handler.close_connection = True

    server.says(answer)
    assert "cut off on the way" in str(refused(server.url))


def test_damaged_gzip(server: loopback.Server) -> None:
    server.says(loopback.sends(b"not packed at all", Content_Encoding="gzip"))
    assert "damaged on the way" in str(refused(server.url))


@pytest.mark.parametrize("as_gzip", [False, True])
def test_a_huge_body_is_given_up(server: loopback.Server, as_gzip: bool) -> None:
    body = b"x" * 3_000_000
    server.says(loopback.packed(body) if as_gzip else loopback.sends(body))
    assert "more than 1 MiB; not kept" in str(refused(server.url, max_bytes=2**20))
    assert len(server.seen) == 1


def test_redirects_are_followed_here(server: loopback.Server) -> None:
    onward = loopback.sends(b"", 302, Location="/elsewhere")
    server.says(loopback.in_turn(onward, loopback.sends(BODY)))
    batch = fetch(server.url)
    assert batch.content == BODY
    assert batch.origin == f"{server.url}/elsewhere"


def test_redirects_to_plain_http_elsewhere_are_refused(server: loopback.Server) -> None:
    server.says(loopback.sends(b"", 302, Location="http://example.org/sets"))
    assert "sends on to http://example.org/sets: not https" in str(refused(server.url))


def test_redirects_from_https_to_http_are_refused(
    certificate: Path, server: loopback.Server
) -> None:
    with loopback.serving(certificate) as safe:
        safe.says(loopback.sends(b"", 301, Location=server.url))
        error = refused(safe.url, ca_file=str(certificate))
    assert "not https" in str(error)
    assert server.seen == []


def test_redirects_without_end(server: loopback.Server) -> None:
    server.says(loopback.sends(b"", 302, Location="/again"))
    assert "sends on more than 5 times" in str(refused(server.url))


def test_a_certificate_nobody_vouches_for(certificate: Path) -> None:
    with loopback.serving(certificate) as safe:
        safe.says(loopback.sends(BODY))
        assert "certificate is not to be trusted" in str(refused(safe.url))
        assert safe.seen == []
        trusted = fetch(safe.url, ca_file=str(certificate))
    assert trusted.content == BODY


@pytest.mark.parametrize(
    "url", ["http://example.org/x", "ftp://127.0.0.1/x", "file:///etc/passwd", "x"]
)
def test_only_https_but_for_this_machine(url: str) -> None:
    assert "not https" in str(refused(url))


def test_nobody_there() -> None:
    assert "cannot be reached" in str(refused("http://127.0.0.1:9/", tries=1))


@pytest.mark.parametrize(
    "settings", [{"url": ""}, {"url": 7}, {"read_s": "soon"}, {"tries": -1}]
)
def test_settings_that_say_nothing(settings: dict[str, Any]) -> None:
    query = ElementQuery(
        name="club", settings={"url": "https://example.org", **settings}
    )
    with pytest.raises(InputError):
        web_source.fetch(query)
