"""Files spoilt at random, every reader: a reading or a refusal in a line, nothing else.

The long runs are those of ``fuzz_readers.py``; what they found stands in
``fixtures/broken``.
"""

from __future__ import annotations

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path
from random import Random

import pytest

pytest.importorskip("astropy")
from fuzz_limits import CASES
from fuzz_targets import outcome, readers
from hypothesis import given, settings
from hypothesis import strategies as st

from passes import elements
from passes.errors import PassesError

SCRIPT = Path(__file__).with_name("fuzz_readers.py")


@pytest.mark.parametrize(
    ("reader", "name", "why"),
    [
        ("config", "config-whole-number.toml", "a whole number beyond 64 bits"),
        ("config", "config-setting.toml", "a whole number beyond 64 bits"),
        ("config", "config-hours.toml", "a whole number beyond 64 bits"),
        ("config", "config-tries.toml", "tries must be a number from 0 to 3600"),
        ("sizes", "sizes-endless.csv", "impossible (0 to 10000 m)"),
        ("config", "config-long-key.toml", "a key of more than 100 parts"),
        ("config edit", "config-list.toml", "[sites]: want a table of names"),
        ("config edit", "config-value.toml", "[sites]: want a table of names"),
        ("plan", "plan-deep.toml", "nested too deeply"),
        ("plan", "plan-digits.toml", "digits"),
        ("plan", "plan-whole-number.toml", "a whole number beyond 64 bits"),
        ("plan", "plan-year-1.toml", "start: the year 1 is impossible (1957 to 2099)"),
        ("plan", "plan-year-9999.toml", "the year 9999 is impossible"),
        ("area", "area-number.geojson", "a ring must be a list of"),
        ("area", "area-kind.geojson", "not GeoJSON (type '[[[10, 44]"),
        ("gate list", "gate-list-wait.json", "is no gate list, or damaged"),
        ("fits", "axes.fits", "NAXIS is no sensible whole number"),
        ("fits", "infinite.fits", "NAXIS1 is no sensible whole number"),
    ],
)
def test_what_once_broke_a_reader_is_refused(fixtures, reader, name, why):
    with pytest.raises(PassesError) as refused:
        readers()[reader].read((fixtures / "broken" / name).read_bytes())
    assert why in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("reader", "name"), [("clock", "stamp.nmea"), ("omm json", "letter.json")]
)
def test_what_once_broke_a_reader_is_read(fixtures, reader, name):
    data = (fixtures / "broken" / name).read_bytes()
    assert outcome(readers()[reader], data) == "read"


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("fast.json", "mean motion 1e+307 rev/day is impossible (up to 100)"),
        ("slope.json", "second derivative of mean motion is impossibly large"),
        ("turns.json", "ascension of the node 1e+40° is impossible (up to 1000)"),
    ],
)
def test_elements_that_no_orbit_has_are_told(fixtures, name, why):
    (told,) = elements.read([fixtures / "broken" / name]).rejected
    assert why in told.reason


@pytest.mark.parametrize("cell", ["a" * 200_000, '"' + "a\n" * 100_000])
def test_a_horizon_with_a_cell_without_end_is_refused(cell):
    with pytest.raises(PassesError, match=r"^horizon\.csv:\d+: field larger than"):
        readers()["horizon"].read(cell.encode())


@pytest.mark.parametrize("reader", ["config", "plan", "area", "horizon"])
def test_the_largest_file_is_read_and_a_larger_one_refused(reader: str) -> None:
    limits = {**CASES, "horizon": lambda: b"".join(b"%f,1\n" % i for i in range(360))}
    data = limits[reader]()
    assert outcome(readers()[reader], data) == "read"
    assert outcome(readers()[reader], data * 3) == "refused"


def test_a_site_is_kept_in_a_file_of_tables_in_braces():
    assert outcome(readers()["config edit"], b"sites = {}\n") == "read"


@pytest.mark.parametrize("reader", list(readers()))
@pytest.mark.filterwarnings("ignore:.*unclosed:ResourceWarning")
@settings(max_examples=200)
@given(rnd=st.randoms(use_true_random=False), which=st.integers(0, 99))
def test_spoilt_files_are_read_or_refused_in_a_line(
    reader: str, rnd: Random, which: int
) -> None:
    one = readers()[reader]
    data = one.mutate(one.seeds[which % len(one.seeds)], rnd)
    assert outcome(one, data) in ("read", "refused")


@pytest.mark.parametrize("engine", ["atheris", "loop"])
def test_a_short_run_of_the_long_one_finds_nothing(tmp_path: Path, engine: str) -> None:
    if engine == "atheris" and find_spec("atheris") is None:
        pytest.skip("atheris is not installed (extra fuzz)")
    command = [sys.executable, str(SCRIPT), "all", "--engine", engine]
    command += ["--inputs", "2500", "--found", str(tmp_path / "found")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.splitlines()[1].split()[:3] == ["all", engine, "2500"]
    assert list((tmp_path / "found").iterdir()) == []
