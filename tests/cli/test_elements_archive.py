"""Keeping element sets, as a user types it."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import Result

from passes import elements
from passes.cli.archive import common
from passes.testing.elements import element_text

TEXT = element_text().replace("SAMPLE ROCKET BODY", "SAMPLE R/B")
NOW = datetime(2031, 10, 12, 6, tzinfo=UTC)
Run = Callable[..., Result]


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(common, "now", lambda: NOW)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Two invented objects: a station and a rocket body."""
    path = tmp_path / "two.tle"
    path.write_text(TEXT)
    return path


@pytest.fixture
def filled(run: Run, file: Path) -> Run:
    """The usual archive with the two."""
    assert run("elements", "add", str(file)).exit_code == 0
    return run


def checked(result: Result, schema: str, package: Path) -> dict[str, Any]:
    """The JSON that was printed, held against its schema."""
    document = json.loads(result.stdout)
    folder = package / "cli" / "schemas"
    jsonschema.validate(document, json.loads((folder / schema).read_text()))
    assert isinstance(document, dict)
    return document


def test_the_usual_archive_lies_under_the_data_folder(filled: Run, home: Path) -> None:
    assert (home / ".local/share/passes/elements.sqlite").is_file()


def test_add_says_what_is_new_and_what_the_archive_holds(run: Run, file: Path) -> None:
    first = run("elements", "add", str(file))
    assert first.exit_code == 0
    assert "Added 2 element sets with 2 new objects." in first.stdout
    assert "holds 2 objects in 2 element sets: 1 station, 1 rocket body" in (
        " ".join(first.stdout.split())
    )
    again = run("elements", "add", str(file))
    assert again.exit_code == 0
    assert "Nothing new" in again.stdout


def test_add_from_standard_input_and_patterns(run: Run, file: Path) -> None:
    piped = run("elements", "add", "-", input=TEXT)
    assert "Added 2 element sets" in piped.stdout
    assert "Nothing new" in run("elements", "add", str(file.parent / "*.tle")).stdout


def test_add_uses_the_good_and_tells_the_bad(run: Run, file: Path) -> None:
    lines = file.read_text().splitlines()
    lines[1] = lines[1][:-1] + ("0" if lines[1][-1] != "0" else "1")
    file.write_text("\n".join(lines) + "\n")
    strict = run("elements", "add", str(file), "--strict")
    assert strict.exit_code == 1
    assert run("elements", "list", "--json").stdout.count('"catalog_number"') == 0
    result = run("elements", "add", str(file))
    assert result.exit_code == 0
    assert "Added 1 element set with 1 new object." in result.stdout
    assert f"{file}:2: " in result.stderr
    assert "checksum" in result.stderr


def test_add_json(run: Run, file: Path, package: Path) -> None:
    result = run("elements", "add", str(file), "--json")
    document = checked(result, "elements_add.json", package)
    assert (document["added"], document["added_objects"]) == (2, 2)
    assert document["holds"]["missing_classes"] == []


def test_missing_classes_are_said(run: Run, file: Path) -> None:
    station = "\n".join(file.read_text().splitlines()[:3]) + "\n"
    result = run("elements", "add", "-", input=station)
    assert "no rocket bodies" in " ".join(result.stdout.split())
    assert "no space stations" not in result.stdout
    body = "\n".join(file.read_text().splitlines()[3:]) + "\n"
    other = run(
        "elements", "add", "-", "--archive", str(file.parent / "b.sqlite"), input=body
    )
    assert "no space stations" in " ".join(other.stdout.split())


def test_archive_may_be_named_or_configured(
    run: Run, file: Path, tmp_path: Path
) -> None:
    named = tmp_path / "named.sqlite"
    assert run("--archive", str(named), "elements", "add", str(file)).exit_code == 0
    assert named.is_file()
    config = tmp_path / "c.toml"
    config.write_text(f"[defaults]\narchive = '{named}'\n")
    listed = run("elements", "list", "--config", str(config))
    assert str(named) in listed.stdout.replace("\n         ", "")
    assert "2 objects in 2 element sets" in listed.stdout


def test_an_empty_archive_says_what_to_do_next(run: Run) -> None:
    result = run("elements", "list")
    assert result.exit_code == 0
    assert "passes elements add FILE" in result.stdout
    for command in ("tonight", "track"):
        more = ("--object", "80001") if command == "track" else ()
        night = run(command, "--at", "37,-3", "--date", "2031-10-11", *more)
        assert night.exit_code == 1
        assert "passes elements add FILE" in night.stderr
        assert len(night.stderr.splitlines()) <= 2


def test_list_filters(filled: Run) -> None:
    everything = filled("elements", "list").stdout
    assert "SAMPLE STATION" in everything
    assert "SAMPLE R/B" in everything
    station = filled("elements", "list", "--class", "station").stdout
    assert "1 object of 2 match" in station
    assert "SAMPLE R/B" not in station
    assert "80002" in filled("elements", "list", "r/b").stdout
    none = filled("elements", "list", "--older-than", "20")
    assert none.exit_code == 0
    assert "0 objects of 2 match" in none.stdout


def test_list_for_machines(filled: Run, package: Path) -> None:
    result = filled("elements", "list", "--json")
    document = checked(result, "elements_list.json", package)
    numbers = [one["catalog_number"] for one in document["objects"]]
    assert numbers == [80001, 80002]
    rows = list(
        csv.DictReader(
            io.StringIO(filled("elements", "list", "--format", "csv").stdout)
        )
    )
    assert [row["name"] for row in rows] == ["SAMPLE STATION", "SAMPLE R/B"]
    assert rows[0]["last_epoch"] == "2031-10-11T12:00:00.000Z"


def test_show_says_the_orbit_in_plain_words(filled: Run, package: Path) -> None:
    result = filled("elements", "show", "80001")
    text = " ".join(result.stdout.split())
    assert "80001 SAMPLE STATION" in text
    assert "once around in 92.9 minutes" in text
    assert "tilted by 51.6°" in text
    assert "two.tle" in text
    assert filled("elements", "show", "sample station").stdout == result.stdout
    document = checked(
        filled("elements", "show", "80001", "--json"), "elements_show.json", package
    )
    # semi-major axis of 15.5 revolutions a day by Kepler's third law: 6795 km
    middle_km = (document["orbit"]["perigee_km"] + document["orbit"]["apogee_km"]) / 2
    assert middle_km == pytest.approx(6795 - 6378, abs=2.0)


def test_show_of_nobody_and_of_several(filled: Run) -> None:
    nobody = filled("elements", "show", "99999")
    assert nobody.exit_code == 2
    assert "99999" in nobody.stderr
    several = filled("elements", "show", "sample")
    assert several.exit_code == 2
    assert "80001 SAMPLE STATION" in several.stderr


def test_forget_asks_first(filled: Run) -> None:
    refused = filled("elements", "forget", "80001", input="n\n")
    assert refused.exit_code == 1
    assert "Forget 1 element set of 1 object" in refused.stderr
    assert "SAMPLE STATION" in filled("elements", "list").stdout
    agreed = filled("elements", "forget", "80001", input="y\n")
    assert agreed.exit_code == 0
    assert "Forgot 1 element set." in agreed.stdout
    assert "SAMPLE STATION" not in filled("elements", "list").stdout


def test_forget_by_age_without_asking(filled: Run) -> None:
    kept = filled("elements", "forget", "--older-than", "30", "--yes")
    assert "nothing in the archive is meant" in kept.stderr
    # epochs are 18 and 24 hours before
    gone = filled("elements", "forget", "--older-than", "0.9", "--yes")
    assert "Forgot 1 element set." in gone.stdout
    assert filled("elements", "forget").exit_code == 2


def test_export_gives_back_what_was_added(filled: Run, tmp_path: Path) -> None:
    assert filled("elements", "export", "--format", "tle").stdout == TEXT
    target = tmp_path / "out.json"
    result = filled("elements", "export", "--output", str(target))
    assert result.exit_code == 0
    assert "2 element sets" in result.stderr
    again = elements.read([target]).catalogue
    assert elements.tle_text(again) == TEXT
    one = filled("elements", "export", "80002", "--format", "tle").stdout
    assert one == "".join(TEXT.splitlines(keepends=True)[3:])


def test_export_leaves_out_what_does_not_fit_and_says_so(
    run: Run, file: Path, tmp_path: Path
) -> None:
    records = json.loads(elements.omm_text(elements.read([file]).catalogue))
    records[0]["NORAD_CAT_ID"] = 790_000_001
    assert run("elements", "add", "-", input=json.dumps(records)).exit_code == 0
    result = run("elements", "export", "--format", "tle")
    assert result.stdout.count("\n") == 3
    assert "1 element set do not fit" in result.stderr
    assert "790000001" in run("elements", "export").stdout


def test_tonight_takes_the_nearest_set_of_the_archive(
    run: Run, real_data: Path
) -> None:
    for day in ("13", "20"):
        file = real_data / f"active_2025-09-{day}.tle.gz"
        assert run("elements", "add", str(file)).exit_code == 0
    ages = []
    for evening in ("2025-09-14", "2025-09-21"):
        result = run(
            *("tonight", "--at", "37.1,-3.4,1900", "--date", evening),
            *("--object", "25544", "--json", "--all"),
        )
        assert result.exit_code == 0, result.stderr
        passages = json.loads(result.stdout)["passes"]
        ages.append({round(one["element_age_days"]) for one in passages})
    # the set of the 13th serves the night of the 14th, that of the 20th the 21st
    assert max(ages[0]) <= 2
    assert max(ages[1]) <= 2
    month_later = run(
        *("tonight", "--at", "37.1,-3.4", "--date", "2025-11-30", "--json")
    )
    searched = json.loads(month_later.stdout)["searched"]
    assert searched["objects"] == 0
    assert len(searched["skipped"]) > 12_000


def test_a_damaged_archive_is_told_in_two_lines(filled: Run, home: Path) -> None:
    path = home / ".local/share/passes/elements.sqlite"
    path.write_bytes(b"\0" * 5000)
    result = filled("tonight", "--at", "37,-3", "--date", "2031-10-11")
    assert result.exit_code == 1
    assert "damaged; it was set aside as elements.sqlite.damaged-" in result.stderr
    assert len(result.stderr.splitlines()) == 2
    assert len(list(path.parent.glob("*.damaged-*Z"))) == 1
