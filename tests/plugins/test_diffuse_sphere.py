"""The diffuse-sphere model: which row serves whom, and what a user's table may do."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import objects
from passes.contributions import Brightness, Illumination, ObjectFacts
from passes.testing import check_plugin
from passes_plugins import diffuse_sphere

HALF = np.pi / 2


def facts(name: str = "NAMELESS", number: int = 80001, **known: Any) -> ObjectFacts:
    kind = objects.object_class([name])[0]
    return ObjectFacts(
        **{"catalog_number": number, "name": name, "object_class": kind} | known
    )


def seen(
    *subjects: ObjectFacts,
    range_km: Any = 1000.0,
    phase_rad: Any = HALF,
    table: Path | str | None = None,
) -> Brightness:
    """The answer for each subject at one geometry, or one subject at several."""
    n = max(len(subjects), np.size(range_km), np.size(phase_rad))
    index = np.arange(n) if len(subjects) > 1 else np.zeros(n, dtype=int)
    asked = Illumination(
        facts=subjects,
        object_index=index,
        range_km=np.broadcast_to(range_km, n),
        phase_angle_rad=np.broadcast_to(phase_rad, n),
        altitude_rad=np.full(n, 1.0),
        settings={} if table is None else {"table": str(table)},
    )
    return diffuse_sphere.magnitude(asked)


def test_it_holds_what_every_plugin_must() -> None:
    checkup = check_plugin(diffuse_sphere)
    checkup.require()
    assert checkup.ran


def test_the_packaged_tables_read_without_a_fault() -> None:
    for table in (diffuse_sphere.packaged_table(), objects.class_averages()):
        assert table.problems == ()
        for row in table.rows:
            assert row.source
            assert row.basis
            assert len(row.basis) <= 60
            assert row.sigma_mag >= 0.5


def test_every_row_of_the_packaged_table_can_be_reached() -> None:
    # A row behind a wider one would never serve: each must be first for some name.
    reached = set()
    table = diffuse_sphere.packaged_table()
    for row in table.rows:
        # A letter or a digit where a pattern leaves it open.
        name = row.pattern.replace("?", "2").replace("*", "2")
        launch = row.launched_from or row.launched_to
        designator = "" if launch is None else f"{launch[0]}-{launch[1]:03d}A"
        low, high = row.perigee_km
        height = high - 1.0 if np.isfinite(high) else max(low, 500.0)
        one = facts(
            name,
            row.catalog_number or 80001,
            designator=designator,
            perigee_km=height,
            apogee_km=height,
        )
        reached.add(table.row_for(one))
    assert reached == set(table.rows)


@pytest.mark.parametrize(
    ("known", "basis"),
    [
        ({"name": "STARLINK-11452 [DTC]", "perigee_km": 345.0}, "direct to cell"),
        ({"name": "STARLINK-11452", "perigee_km": 345.0}, "direct to cell"),
        ({"name": "STARLINK-31452", "perigee_km": 540.0}, "Mini, mitigated"),
        ({"name": "STARLINK-34784", "perigee_km": 320.0}, "Mini climbing"),
        ({"name": "STARLINK-31452"}, "Mini, mitigated"),
        ({"name": "STARLINK-1130", "number": 44932}, "DarkSat"),
        ({"name": "STARLINK-1008", "designator": "19074B"}, "original"),
        ({"name": "STARLINK-1522", "designator": "2020-055A"}, "with visor"),
        ({"name": "STARLINK-2763", "designator": "21044AB"}, "with visor"),
        ({"name": "STARLINK-3004", "designator": "2021-059A"}, "after the visors"),
        ({"name": "STARLINK-5007", "designator": "23099C"}, "after the visors"),
        ({"name": "STARLINK-1522"}, "unknown generation"),
        ({"name": "SPACEMOBILE-003", "designator": "24163A"}, "BlueBird: published"),
        ({"name": "IRIDIUM 106", "designator": "17003A"}, "Iridium second"),
        ({"name": "ISS (NAUKA)", "number": 49044}, "docked"),
    ],
)
def test_generations_are_told_apart(known: dict[str, Any], basis: str) -> None:
    answer = seen(facts(**known))
    assert basis in answer.basis[0]
    assert answer.class_average == (False,)


@pytest.mark.parametrize(
    ("known", "basis"),
    [
        ({"name": "CZ-4C R/B"}, "rocket body"),
        ({"name": "COSMOS 2251 DEB"}, "debris"),
        ({"name": "2025-013A", "perigee_km": 520.0}, "unnamed object"),
        ({"name": "INVENTED 1", "perigee_km": 520.0}, "payload in low orbit"),
        ({"name": "INVENTED 1", "designator": "1994-001A"}, "launched by 2002"),
        ({"name": "INVENTED 1", "perigee_km": 35780.0, "apogee_km": 35790.0}, "geost"),
        ({"name": "INVENTED 1", "perigee_km": 20200.0}, "high payload"),
        ({"name": "INVENTED 1", "perigee_km": 600.0, "apogee_km": 39e3}, "ellipse"),
        ({"name": "INVENTED STATION"}, "station"),
    ],
)
def test_unknown_objects_get_a_marked_class_average(
    known: dict[str, Any], basis: str
) -> None:
    answer = seen(facts(**known))
    assert answer.class_average == (True,)
    assert answer.basis[0].startswith("class average")
    assert basis in answer.basis[0]
    assert np.isfinite(answer.magnitude[0])


def test_a_class_never_heard_of_is_unknown_not_guessed() -> None:
    answer = seen(facts("THING", object_class="balloon"))
    assert np.isnan(answer.magnitude[0])
    assert np.isnan(answer.sigma[0])
    assert answer.class_average == (True,)
    assert answer.basis == (diffuse_sphere.NOTHING_KNOWN,)


def test_small_payloads_are_no_naked_eye_objects() -> None:
    # Overhead at 500 km, phase 60°: 6.5 and 10 are past what a dark site shows.
    overhead = {"range_km": 500.0, "phase_rad": np.radians(60.0)}
    average = seen(facts("INVENTED 1", perigee_km=500.0), **overhead)
    assert average.magnitude[0] > 6.0
    assert average.sigma[0] >= 2.0
    cubesat = seen(facts("FLOCK 4G-1", perigee_km=500.0), **overhead)
    assert cubesat.magnitude[0] > 8.0


names = st.sampled_from(
    ["ISS (ZARYA)", "STARLINK-31452", "SL-16 R/B", "X DEB", "ONEWEB-0012", "2025-001A"]
)


@given(names, st.floats(200, 4e4), st.floats(1.0, 3.0), st.floats(0.0, 3.1))
def test_farther_is_never_brighter(
    name: str, range_km: float, times: float, phase: float
) -> None:
    ranges = [range_km, range_km * times]
    near, far = seen(facts(name), range_km=ranges, phase_rad=phase).magnitude
    assert far >= near


@given(names, st.floats(200, 4e4), st.floats(0.0, 3.1), st.floats(0.0, 3.1))
def test_a_larger_phase_is_never_brighter(
    name: str, range_km: float, one: float, other: float
) -> None:
    phases = sorted([one, other])
    small, large = seen(facts(name), range_km=range_km, phase_rad=phases).magnitude
    assert large >= small - 1e-9


@given(st.lists(st.tuples(names, st.floats(200, 4e4), st.floats(0, 3.1)), min_size=1))
def test_one_call_for_all_equals_one_call_each(
    samples: list[tuple[str, float, float]],
) -> None:
    subjects = tuple(facts(name) for name, _, _ in samples)
    ranges = np.array([range_km for _, range_km, _ in samples])
    phases = np.array([phase for _, _, phase in samples])
    asked = Illumination(
        facts=subjects,
        object_index=np.arange(len(samples)),
        range_km=ranges,
        phase_angle_rad=phases,
        altitude_rad=ranges * 0,
    )
    together = diffuse_sphere.magnitude(asked)
    for i, subject in enumerate(subjects):
        alone = seen(subject, range_km=ranges[i], phase_rad=phases[i])
        assert alone.magnitude[0] == together.magnitude[i]
        assert alone.sigma[0] == together.sigma[i]
        assert alone.basis[0] == together.basis[i]


def test_nothing_to_look_at_gives_nothing() -> None:
    empty = np.empty(0)
    asked = Illumination(
        facts=(),
        object_index=empty,
        range_km=empty,
        phase_angle_rad=empty,
        altitude_rad=empty,
    )
    answer = diffuse_sphere.magnitude(asked)
    assert answer.magnitude.shape == answer.sigma.shape == (0,)
    assert answer.basis == ()


def test_unknown_geometry_stays_unknown() -> None:
    answer = seen(facts("SL-16 R/B"), range_km=[np.nan, 800.0], phase_rad=[1.0, np.nan])
    assert np.isnan(answer.magnitude).all()
    mean = seen(facts("ONEWEB-0012"), range_km=1000.0, phase_rad=np.nan)
    assert mean.magnitude[0] == pytest.approx(7.27)  # range alone is applied


def test_the_question_is_not_changed() -> None:
    ranges, phases = np.array([500.0, 900.0]), np.array([0.5, 1.5])
    asked = Illumination(
        facts=(facts("HST"),),
        object_index=np.zeros(2),
        range_km=ranges,
        phase_angle_rad=phases,
        altitude_rad=np.ones(2),
    )
    first = diffuse_sphere.magnitude(asked)
    again = diffuse_sphere.magnitude(asked)
    assert first.magnitude.tolist() == again.magnitude.tolist()
    assert asked.range_km.tolist() == ranges.tolist() == [500.0, 900.0]
    assert asked.phase_angle_rad.tolist() == phases.tolist() == [0.5, 1.5]


def test_what_was_used_can_be_listed() -> None:
    answer = seen(facts("SL-16 R/B"), facts("SL-16 R/B"), facts("X DEB"))
    assert objects.basis_counts(answer.basis, answer.class_average) == (
        ("estimate from size: stage", 2, False),
        ("class average: debris", 1, True),
    )


# --- a table of one's own -------------------------------------------------------------


def own(folder: Path, text: str) -> Path:
    path = folder / "mine.csv"
    path.write_text(text, encoding="utf-8")
    return path


HEADER = "catalog_number,name,object_class,launched_from,value,sigma,convention,basis\n"


def test_own_rows_come_first_by_number_and_by_name(tmp_path: Path) -> None:
    table = own(
        tmp_path,
        "# what I saw\n" + HEADER + "25544,,,,-2.5,0.3,full,my own count\n"
        ",sl-1? r/b,,,2.0,0.5,lambert90,\n",
    )
    answer = seen(
        facts("ISS (ZARYA)", 25544),
        facts("SL-16 R/B"),
        facts("SL-8 R/B"),
        table=table,
    )
    # Fully lit to half lit is 1.2429 mag (SeeSat-L 2001-04, message 0313).
    assert answer.magnitude[:2] == pytest.approx([-2.5 + 1.2429, 2.0], abs=1e-4)
    assert answer.sigma[:2].tolist() == [0.3, 0.5]
    assert answer.basis[:2] == ("my own count", "own table")
    assert answer.class_average == (False, False, False)
    assert answer.basis[2] == seen(facts("SL-8 R/B")).basis[0]
    assert answer.notes == ()


def test_own_number_wins_over_own_name_whatever_the_order(tmp_path: Path) -> None:
    rows = [",STARLINK-*,,,1.0,0.5,full,name\n", "80001,,,,2.0,0.5,full,number\n"]
    for order in (rows, rows[::-1]):
        table = own(tmp_path, HEADER + "".join(order))
        answer = seen(facts("STARLINK-1"), table=table)
        assert answer.basis == ("number",)


def test_own_class_rows_replace_averages_only(tmp_path: Path) -> None:
    table = own(tmp_path, HEADER + ",,rocket body,,2.5,0.9,lambert90,my stages\n")
    answer = seen(facts("SL-16 R/B"), facts("CZ-4C R/B"), table=table)
    assert answer.basis == ("estimate from size: stage", "my stages")
    assert answer.class_average == (False, True)


def test_own_launch_range(tmp_path: Path) -> None:
    table = own(tmp_path, HEADER + ",NEW*,,2030-005,2.5,0.9,lambert90,new\n")
    before = facts("NEW 1", designator="30004A")
    after = facts("NEW 1", designator="2030-005B")
    answer = seen(before, after, facts("NEW 1"), table=table)
    assert [basis == "new" for basis in answer.basis] == [False, True, False]


@pytest.mark.parametrize(
    ("row", "complaint"),
    [
        ("25544,,,,bright,0.3,full,", "value 'bright': not a number"),
        ("25544,,,,99,0.3,full,", "value 99: impossible (-10 to 25)"),
        ("25544,,,,nan,0.3,full,", "value nan: impossible (-10 to 25)"),
        ("25544,,,,1.0,,full,", "sigma is missing"),
        ("25544,,,,1.0,0,full,", "sigma 0: impossible (0.01 to 5)"),
        ("25544,,,,1.0,0.3,half,", "convention 'half': use one of lambert90, full"),
        ("ISS,,,,1.0,0.3,full,", "catalog_number 'ISS': a whole number"),
        (",,,,1.0,0.3,full,", "tells no object; fill in one of catalog_number"),
        (",,blimp,,1.0,0.3,full,", "object_class 'blimp': use one of station"),
        (",X*,,20-5,1.0,0.3,full,", "launch '20-5': write 2020-055 or 2020"),
        ("25544,,,,1.0,0.3,full,a,b", "9 cells under 8 columns"),
        ('25544,"X,,,1.0,0.3,full,', "unexpected end of data"),
    ],
)
def test_a_bad_row_is_named_and_the_good_ones_serve(
    tmp_path: Path, row: str, complaint: str
) -> None:
    good = ",SL-16 R/B,,,2.0,0.5,lambert90,mine\n"
    table = own(tmp_path, HEADER + row + "\n" + good)
    answer = seen(facts("SL-16 R/B"), facts("ISS (ZARYA)", 25544), table=table)
    assert answer.basis[0] == "mine"
    assert answer.basis[1] == seen(facts("ISS (ZARYA)", 25544)).basis[0]
    (note,) = answer.notes
    assert note.text.startswith(f"{table}:2: ")
    assert complaint in note.text
    assert "\n" not in note.text
    assert note.severity == "caution"


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "empty; the first line must name the columns"),
        ("# only words\n\n", "empty; the first line must name the columns"),
        ("name,mag\nX,1\n", ":1: no column value, sigma, convention; columns are"),
        ("name,value,sigma,convention,colour\n", ":1: unknown column colour"),
        ("value,sigma,convention\n1,1,full\n", ":1: no column tells which object"),
    ],
)
def test_a_useless_table_is_told_and_the_packaged_one_serves(
    tmp_path: Path, text: str, complaint: str
) -> None:
    table = own(tmp_path, text)
    answer = seen(facts("SL-16 R/B"), table=table)
    assert answer.basis == seen(facts("SL-16 R/B")).basis
    (note,) = answer.notes
    assert complaint in note.text
    assert str(table) in note.text


def test_a_table_that_is_not_there_or_not_text(tmp_path: Path) -> None:
    missing = seen(facts("HST"), table=tmp_path / "none.csv")
    assert "No such file" in missing.notes[0].text
    folder = seen(facts("HST"), table=tmp_path)
    assert str(tmp_path) in folder.notes[0].text
    binary = tmp_path / "sheet.csv"
    binary.write_bytes(b"\xff\xfe\x00name")
    assert "not UTF-8" in seen(facts("HST"), table=binary).notes[0].text
    assert missing.basis == folder.basis == seen(facts("HST")).basis


def test_the_example_in_the_documentation_reads() -> None:
    folder = Path(diffuse_sphere.__file__).parent / "data"
    page = (folder / "README.md").read_text("utf-8")
    example = page.split("```")[1].strip()
    table = objects.read_standard_table(example, "README.md")
    assert table.problems == ()
    assert len(table.rows) == len(example.splitlines()) - 1


cells = st.sampled_from(["", "25544", "ISS*", "payload", "1.5", "-3", "full", '"', "é"])


@given(st.lists(st.lists(cells | st.text(max_size=6), max_size=9), max_size=6))
def test_no_text_makes_the_reader_fall_over(lines: list[list[str]]) -> None:
    text = HEADER + "\n".join(",".join(line) for line in lines)
    table = objects.read_standard_table(text, "any.csv")
    for row in table.rows:
        assert -10.0 <= row.value_mag <= 25.0
        assert 0.0 < row.sigma_mag <= 5.0
    for problem in table.problems:
        assert problem.startswith("any.csv:")


def test_heights_the_wrong_way_round(tmp_path: Path) -> None:
    header = "name,perigee_from_km,perigee_to_km,value,sigma,convention\n"
    table = own(tmp_path, header + "X*,900,300,1,1,full\nY*,300,900,1,1,full\n")
    answer = seen(facts("Y1", perigee_km=500.0), facts("Y1"), table=table)
    assert [basis == "own table" for basis in answer.basis] == [True, False]
    assert "the wrong way round" in answer.notes[0].text


def test_a_spreadsheet_s_byte_order_mark_and_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_bytes(
        b"\xef\xbb\xbfName,Value,Sigma,Convention\r\nX*,1.5,0.5,full\r\n,,,\r\n"
    )
    answer = seen(facts("X1"), phase_rad=0.0, table=path)
    assert answer.magnitude[0] == pytest.approx(1.5)
    assert answer.notes == ()
