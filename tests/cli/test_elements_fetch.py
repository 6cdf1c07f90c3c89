"""Fetching as a user types it, from a real server of this machine."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import jsonschema
import loopback
import pytest
from click.testing import Result

from passes.cli.archive import common
from passes.testing.elements import element_text

TEXT = element_text().replace("SAMPLE ROCKET BODY", "SAMPLE R/B")
BODY = TEXT.encode()
PATIENT = "read_s = 60"
Run = Callable[..., Result]


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """A clock that stands until it is moved."""
    held = SimpleNamespace(now=datetime(2031, 10, 12, 6, tzinfo=UTC))
    monkeypatch.setattr(common, "now", lambda: held.now)
    monkeypatch.setenv("NO_PROXY", "127.0.0.1")
    return held


@pytest.fixture
def server() -> Iterator[loopback.Server]:
    with loopback.serving() as one:
        one.says(loopback.sends(BODY, ETag='"v1"'))
        yield one


@pytest.fixture
def source(run: Run, server: loopback.Server, home: Path) -> str:
    """A source named ``club`` in the person's configuration."""
    result = run("elements", "sources", "--add", "club", "--url", server.url)
    assert result.exit_code == 0, result.stderr
    config = home / ".config/passes/passes.toml"
    quick = f"{PATIENT}\ntotal_s = 120\nwait_s = 0.01\n"
    config.write_text(config.read_text() + quick)
    return "club"


@contextmanager
def impatient(home: Path) -> Iterator[None]:
    """No answer is waited for; but those that come may take their time otherwise."""
    config = home / ".config/passes/passes.toml"
    patient = config.read_text()
    config.write_text(patient.replace(PATIENT, "read_s = 0.3"))
    yield
    config.write_text(patient)


def fetched(run: Run, *more: str) -> dict[str, object]:
    result = run("elements", "fetch", "--json", *more)
    (one,) = json.loads(result.stdout)["sources"]
    assert result.exit_code == (1 if one["state"] == "failed" else 0)
    assert isinstance(one, dict)
    return one


def test_good_then_not_due_then_not_modified(
    run: Run, source: str, server: loopback.Server, clock: SimpleNamespace
) -> None:
    first = run("elements", "fetch")
    assert first.exit_code == 0
    text = " ".join(first.stdout.split())
    assert "club Added 2 element sets with 2 new objects." in text
    assert "1 station, 1 rocket body" in text
    clock.now += timedelta(minutes=90)
    assert fetched(run)["state"] == "not due"
    assert len(server.seen) == 1
    server.says(loopback.sends(b"", 304))
    assert fetched(run, "--force")["state"] == "unchanged"
    assert server.seen[1]["if-none-match"] == '"v1"'
    clock.now += timedelta(minutes=119)
    assert fetched(run)["state"] == "not due"
    clock.now += timedelta(minutes=2)
    assert fetched(run)["state"] == "unchanged"


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (loopback.cut_off(BODY[:100], len(BODY)), "cut off on the way"),
        (loopback.sends(b"", 403), "HTTP 403: it refuses"),
        (loopback.sends(b"", 429, Retry_After="7200"), "HTTP 429"),
        (loopback.sends(b"", 500), "HTTP 500"),
        (loopback.sends(b"", 302, Location="http://example.org/"), "not https"),
        (loopback.sends(loopback.LOGIN), "is a web page ('Sign in')"),
        (loopback.sends(b"hello"), "holds no element sets"),
        (loopback.sends(b""), "is empty"),
        (loopback.sends(b"[]"), "holds no element sets"),
        (loopback.packed(b"\0" * 70_000_000), "more than 64 MiB"),
    ],
    ids=[
        *("cut-off", "403", "429", "500", "redirect-to-http"),
        *("login", "text", "empty", "empty-list", "huge"),
    ],
)
def test_each_trouble_is_one_line_and_leaves_the_archive_as_it_was(
    run: Run,
    source: str,
    server: loopback.Server,
    clock: SimpleNamespace,
    answer: object,
    words: str,
) -> None:
    assert fetched(run)["state"] == "new"
    before = json.loads(run("elements", "list", "--json").stdout)
    clock.now += timedelta(hours=3)
    server.says(answer)  # type: ignore[arg-type]
    told = fetched(run)
    assert told["state"] == "failed"
    assert words in str(told["told"])
    assert len(str(told["told"]).splitlines()) == 1
    after = json.loads(run("elements", "list", "--json").stdout)
    assert after["objects"][0]["sets"] == before["objects"][0]["sets"]
    assert after["holds"]["sets"] == before["holds"]["sets"]


def test_a_slow_answer_is_one_line_and_leaves_the_archive_as_it_was(
    run: Run,
    source: str,
    server: loopback.Server,
    clock: SimpleNamespace,
    home: Path,
) -> None:
    assert fetched(run)["state"] == "new"
    clock.now += timedelta(hours=3)
    server.says(loopback.slowly(BODY, first_s=60.0))
    with impatient(home):
        told = fetched(run)
    assert told["state"] == "failed"
    assert "no answer within 0.3 s" in str(told["told"])
    assert len(str(told["told"]).splitlines()) == 1
    assert json.loads(run("elements", "list", "--json").stdout)["holds"]["sets"] == 2


def test_a_body_with_some_bad_sets_gives_the_good_ones(
    run: Run, source: str, server: loopback.Server
) -> None:
    lines = TEXT.splitlines()
    lines[1] = lines[1].replace("31001A", "31002A")
    server.says(loopback.sends("\n".join(lines).encode()))
    told = fetched(run)
    assert told["added"] == 1
    assert "1 record could not be read" in str(told["told"])


def test_gzip(run: Run, source: str, server: loopback.Server) -> None:
    server.says(loopback.packed(BODY))
    assert fetched(run)["added"] == 2


def test_a_source_that_wants_to_be_left_alone_is(
    run: Run, source: str, server: loopback.Server, clock: SimpleNamespace
) -> None:
    server.says(loopback.sends(b"", 429, Retry_After="36000"))
    assert fetched(run)["state"] == "failed"
    clock.now += timedelta(hours=5)
    assert fetched(run)["state"] == "not due"
    assert len(server.seen) == 1
    clock.now += timedelta(hours=6)
    server.says(loopback.sends(BODY))
    assert fetched(run)["state"] == "new"


@pytest.mark.parametrize("headers", [{}, {"Retry_After": "86400"}])
def test_a_clock_that_was_ahead_holds_nobody_up(
    run: Run,
    source: str,
    server: loopback.Server,
    clock: SimpleNamespace,
    headers: dict[str, str],
) -> None:
    clock.now += timedelta(days=3000)
    server.says(
        loopback.sends(BODY if not headers else b"", 503 if headers else 200, **headers)
    )
    fetched(run)
    clock.now -= timedelta(days=3000)
    server.says(loopback.sends(BODY))
    assert fetched(run)["state"] in ("new", "unchanged")
    assert fetched(run)["state"] == "not due"


def test_where_nobody_answered_one_may_ask_again_at_once(
    run: Run, source: str, server: loopback.Server, home: Path
) -> None:
    server.says(loopback.slowly(BODY, first_s=60.0))
    with impatient(home):
        assert fetched(run)["state"] == "failed"
    server.says(loopback.sends(BODY))
    assert fetched(run)["state"] == "new"


def test_one_source_failing_does_not_keep_the_others(
    run: Run, source: str, server: loopback.Server
) -> None:
    run("elements", "sources", "--add", "absent", "--url", "https://127.0.0.1:9/")
    result = run("elements", "fetch", "--json")
    assert result.exit_code == 1
    states = {s["name"]: s["state"] for s in json.loads(result.stdout)["sources"]}
    assert states == {"club": "new", "absent": "failed"}


def test_another_url_is_not_asked_for_what_the_old_one_said(
    run: Run, source: str, server: loopback.Server
) -> None:
    assert fetched(run)["state"] == "new"
    run("elements", "sources", "--add", "club", "--url", f"{server.url}/other")
    fetched(run, "--force")
    assert server.seen[-1]["path"] == "/other"
    assert "if-none-match" not in server.seen[-1]


def test_fetch_json_follows_its_schema(run: Run, source: str, package: Path) -> None:
    document = json.loads(run("elements", "fetch", "--json").stdout)
    schema = package / "cli" / "schemas" / "elements_fetch.json"
    jsonschema.validate(document, json.loads(schema.read_text()))
    assert document["holds"]["sets"] == 2


def test_without_sources_one_line_says_what_to_do(run: Run) -> None:
    result = run("elements", "fetch")
    assert result.exit_code == 1
    assert "passes elements sources" in result.stderr
    named = run("elements", "sources")
    assert named.exit_code == 0
    assert "active" in named.stdout
    assert run("elements", "fetch", "nobody").exit_code == 2


def test_the_usual_sources_are_written_once_and_stay_editable(
    run: Run, home: Path
) -> None:
    first = run("elements", "sources", "--json")
    config = home / ".config/passes/passes.toml"
    assert "wrote the usual public sources" in first.stderr
    names = [one["name"] for one in json.loads(first.stdout)["sources"]]
    assert names == ["active", "stations", "bright", "launched"]
    for one in json.loads(first.stdout)["sources"]:
        assert one["url"].startswith("https://")
        assert one["every_hours"] >= 2  # the publisher's own wish
    config.write_text(f"# mine\n{config.read_text()}")
    assert run("elements", "sources", "--remove", "active").exit_code == 0
    text = config.read_text()
    assert text.startswith("# mine")
    assert "sources.active" not in text
    assert "wrote" not in run("elements", "sources").stderr
    assert run("elements", "sources", "--remove", "active").exit_code == 2


def test_an_unknown_kind_is_told(run: Run, home: Path) -> None:
    run("elements", "sources", "--add", "x", "--url", "https://e.org", "--kind", "tape")
    told = fetched(run)
    assert told["state"] == "failed"
    assert "tape" in str(told["told"])


def test_a_bar_shows_how_far_a_download_has_come() -> None:
    from passes.cli.archive.fetch import _reporting

    shown: list[tuple[str, int, int]] = []
    report = _reporting(lambda *told: shown.append(told), "club")  # type: ignore[arg-type]
    report(250, 1000)
    report(5000, None)
    assert shown[0] == ("fetching club [#####---------------]", 250, 1000)
    assert shown[1] == ("fetching club, KiB", 4, 0)
