"""What is known of objects: class, size, and the company they fly in."""

import gzip
import math
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sgp4.api import Satrec, SatrecArray, jday

from passes import objects

EVENING = datetime(2025, 9, 14, tzinfo=UTC)


# --- class ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        # Names as the public catalogue writes them (common practice, no source).
        ("ISS (ZARYA)", "station"),
        ("CSS (TIANHE)", "station"),
        ("DEMO STATION", "station"),
        ("ISS (NAUKA)", "payload"),
        ("CSS (WENTIAN)", "payload"),
        ("PROGRESS-MS 31", "payload"),
        ("HST", "payload"),
        ("STARLINK-11452 [DTC]", "payload"),
        ("BLUEBON", "payload"),
        ("SL-16 R/B", "rocket body"),
        ("DELTA 1 R/B(1)", "rocket body"),
        ("ELECTRON KICK STAGE R/B", "rocket body"),
        ("CELESTIS-02 & TAURUS R/B", "rocket body"),
        ("FENGYUN 1C DEB", "debris"),
        ("BREEZE-M DEB (TANK)", "debris"),
        ("ISS DEB", "debris"),
        ("SL-16 R/B DEB", "debris"),
        ("WESTFORD NEEDLES", "debris"),
        ("DEBUT", "payload"),
        ("2021-091B", "unknown"),
        ("OBJECT AC", "unknown"),
        ("TBA - TO BE ASSIGNED", "unknown"),
        ("", "unknown"),
        ("44238", "unknown"),
    ],
)
def test_the_name_tells_the_class(name: str, kind: str) -> None:
    assert objects.object_class([name, f" {name.lower()}  "]) == (kind, kind)


def test_a_station_without_a_name_is_told_by_its_designator() -> None:
    designators = ["98067A", "1998-067A", "98067WK", "2021-035A", "25001A", ""]
    kinds = objects.object_class([""] * 6, designators)
    assert kinds == ("station", "station", "unknown", "station", "unknown", "unknown")


def test_each_station_stands_once() -> None:
    names = ["ISS (NAUKA)", "ISS (ZARYA)", "HST", "CSS (WENTIAN)", "CSS (MENGTIAN)"]
    numbers = [49044, 25544, 20580, 53239, 54216]
    flags = objects.is_station(numbers, names)
    assert flags.tolist() == [False, True, False, True, False]


def test_invented_stations_stand_for_themselves() -> None:
    names = ["NORTH STATION", "SOUTH STATION", "OLD STATION DEB"]
    assert objects.is_station([80001, 80002, 80003], names).tolist() == [1, 1, 0]


@pytest.mark.parametrize(
    ("designator", "launch"),
    [
        ("1998-067A", (1998, 67)),
        ("98067A", (1998, 67)),
        ("25195AB ", (2025, 195)),
        ("57001B", (1957, 1)),
        ("56001B", (2056, 1)),
        ("", None),
        ("2025", None),
        ("25-195A", None),
    ],
)
def test_the_designator_tells_the_launch(designator: str, launch: Any) -> None:
    # Year pivot of two-line elements: 57-99 are 19xx, 00-56 are 20xx.
    assert objects.launch_of(designator) == launch


# --- size -----------------------------------------------------------------------------


def test_the_large_station_spans_the_published_angle() -> None:
    # NASA: 109 m end to end; 53.5" from 420 km, 28.1" from 800 km (arithmetic).
    size = objects.size_of(25544, "")
    assert size is not None
    for range_km, arcsec in ((420.0, 53.5), (800.0, 28.1)):
        angle = math.degrees(size.length_m / (range_km * 1000.0)) * 3600.0
        assert angle == pytest.approx(arcsec, abs=0.05)


def test_sizes_are_possible_and_have_a_source() -> None:
    for size in objects.sizes():
        assert size.source
        assert size.what
        assert size.structure
        assert 0.0 < size.filled_fraction <= 1.0
        assert 0.0 < size.structure_m <= size.width_m <= size.length_m < 120.0
        assert (size.catalog_number is None) <= bool(size.pattern)


def test_size_by_name_and_unknown_size() -> None:
    stage = objects.size_of(22285, "SL-16 R/B")
    assert stage is not None
    assert stage.length_m == 10.4
    assert objects.size_of(1, "NOBODY KNOWS") is None
    assert objects.size_of(80001, "DEMO STATION") is None  # real objects only


def test_the_demo_s_own_table_has_its_sizes(package) -> None:
    demo = objects.read_size_file(str(package / "data" / "demo" / "sizes.csv"))
    assert objects.size_of(80001, "DEMO STATION", demo) is not None
    assert objects.size_of(80001, "NOT THE INVENTED ONE", demo) is None


def test_a_persons_own_table_goes_before_the_packaged_one(tmp_path) -> None:
    header = "object,catalog_number,name,length_m,width_m,filled_fraction,structure_m,"
    rows = "structure,source\nours,25544,,9,3,0.5,3,sail,invented\n"
    file = tmp_path / "own.csv"
    file.write_text(header + rows)
    own = objects.read_size_file(str(file))
    assert objects.size_in(own, 25544, "ISS (ZARYA)").length_m == 9.0
    assert objects.size_in(own, 22285, "SL-16 R/B").length_m == 10.4
    assert objects.read_size_file("") == ()


def test_another_table_may_be_asked() -> None:
    header = "object,catalog_number,name,length_m,width_m,filled_fraction,structure_m,"
    rows = "structure,source\nyacht,80009,,9,3,0.5,3,sail,invented\n"
    table = objects.read_sizes(f"# invented\n{header}{rows}")
    yacht = objects.size_of(80009, "", table)
    assert yacht is not None
    assert yacht.area_m2 == 13.5
    assert objects.size_of(25544, "ISS (ZARYA)", table) is None


def test_only_stations_are_longer_than_thirty_metres() -> None:
    numbers = [25544, 48274, 20580, 62755, 60235]
    names = ["ISS (ZARYA)", "CSS (TIANHE)", "HST", "STARLINK-32745", "WHO KNOWS"]
    large = objects.larger_than(numbers, names, 30.0)
    assert large.tolist() == [True, True, False, False, False]


# --- flying in file -------------------------------------------------------------------


def elements(**columns: Any) -> Any:
    """Columns of elements of one launch on one circular orbit, some changed."""
    n = len(next(iter(columns.values())))
    whole = {
        "catalog_number": np.arange(n) + 80001,
        "name": tuple(f"OBJECT {i}" for i in range(n)),
        "designator": ("2030-001A",) * n,
        "epoch_jd": np.full(n, 2460932.5),
        "epoch_fraction": np.full(n, 0.25),
        "inclination_rad": np.full(n, math.radians(53.0)),
        "raan_rad": np.full(n, 1.0),
        "eccentricity": np.full(n, 1e-4),
        "argument_rad": np.full(n, 2.0),
        "mean_anomaly_rad": np.zeros(n),
        "mean_motion_rad_min": np.full(n, 15.8 * 2 * np.pi / 1440.0),
    }
    return SimpleNamespace(**(whole | columns))


def in_file(n: int, spacing_deg: float = 1.0) -> Any:
    return np.radians(np.arange(n) * spacing_deg)


def test_neighbours_of_one_launch_are_a_train() -> None:
    assert objects.trains(elements(mean_anomaly_rad=in_file(20))).tolist() == [0] * 20


def test_a_gap_makes_two_trains_and_stragglers_none() -> None:
    place = np.radians([0, 2, 4, 6, 100, 102, 104, 106, 108, 200, 202])
    groups = objects.trains(elements(mean_anomaly_rad=place))
    assert groups.tolist() == [0, 0, 0, 0, 1, 1, 1, 1, 1, -1, -1]


def test_a_train_may_lie_across_the_node() -> None:
    place = in_file(8) - 2.0 - math.radians(4.0)
    groups = objects.trains(elements(mean_anomaly_rad=place % (2 * np.pi)))
    assert groups.tolist() == [0] * 8


@pytest.mark.parametrize(
    "apart",
    [
        {"designator": ("2030-001A", "2030-002A") * 4},
        {"designator": ("",) * 8},
        {"raan_rad": np.radians([0.0, 2.0] * 4)},
        {"inclination_rad": np.radians([53.0, 54.0] * 4)},
        {"mean_motion_rad_min": np.array([15.8, 15.4] * 4) * 2 * np.pi / 1440.0},
        {"mean_anomaly_rad": in_file(8, 5.0)},
    ],
)
def test_what_keeps_objects_out_of_a_train(apart: dict[str, Any]) -> None:
    # Two sets of four remain where every second object differs, unless they are five
    # degrees apart along the track then, as here.
    columns = {"mean_anomaly_rad": in_file(8, 2.5)} | apart
    assert objects.trains(elements(**columns)).tolist() == [-1] * 8


def test_epochs_may_differ() -> None:
    # Each epoch a revolution's part later than the first, each object that much ahead.
    minutes = np.arange(6) * 17.0
    motion = 15.8 * 2 * np.pi / 1440.0
    moved = elements(
        mean_anomaly_rad=in_file(6) + motion * minutes,
        epoch_fraction=0.25 + minutes / 1440.0,
    )
    assert objects.trains(moved).tolist() == [0] * 6


@given(st.permutations(range(12)), st.floats(0.0, 6.28), st.floats(-3.0, 3.0))
def test_order_and_node_change_no_train(
    order: list[int], node: float, day: float
) -> None:
    place = np.radians([0, 2, 4, 6, 8, 60, 62, 64, 66, 120, 180, 240])
    names = np.array([0] * 5 + [1] * 4 + [-1] * 3)
    shuffled = elements(
        mean_anomaly_rad=place[order],
        raan_rad=np.full(12, node),
        epoch_fraction=np.full(12, day),
    )
    groups = objects.trains(shuffled)
    together = groups[:, None] == groups[None, :]
    wanted = names[order][:, None] == names[order][None, :]
    assert np.array_equal(together, wanted)
    assert np.array_equal(groups == -1, names[order] == -1)


def test_no_objects_fly_in_no_train() -> None:
    assert objects.trains(elements(name=(), designator=())).tolist() == []
    assert objects.attached(elements(name=(), designator=())).tolist() == []


def test_a_docked_craft_belongs_to_its_station() -> None:
    fleet = elements(
        catalog_number=np.array([25544, 64751, 80001, 49044]),
        name=("ISS (ZARYA)", "PROGRESS-MS 31", "CLOSE BY", "ISS (NAUKA)"),
        mean_anomaly_rad=np.radians([0.0, 0.0, 0.3, 0.001]),
    )
    assert objects.attached(fleet).tolist() == [-1, 0, -1, 0]


# --- real element sets ----------------------------------------------------------------


def real(folder: Path, day: str) -> Any:
    packed = (folder / f"active_2025-09-{day}.tle.gz").read_bytes()
    text = gzip.decompress(packed).decode("ascii")
    lines = text.splitlines()
    records = [lines[i : i + 3] for i in range(0, len(lines) - 2, 3)]
    satrecs = [Satrec.twoline2rv(one, two) for _, one, two in records]

    def column(name: str) -> Any:
        return np.array([getattr(satrec, name) for satrec in satrecs])

    return SimpleNamespace(
        satrecs=satrecs,
        catalog_number=column("satnum"),
        name=tuple(name.strip() for name, _, _ in records),
        designator=tuple(one[9:17].strip() for _, one, _ in records),
        epoch_jd=column("jdsatepoch"),
        epoch_fraction=column("jdsatepochF"),
        inclination_rad=column("inclo"),
        raan_rad=column("nodeo"),
        eccentricity=column("ecco"),
        argument_rad=column("argpo"),
        mean_anomaly_rad=column("mo"),
        mean_motion_rad_min=column("no_kozai"),
    )


@pytest.fixture(scope="module")
def catalogue(real_data: Path) -> Any:
    return real(real_data, "13")


def test_classes_of_a_real_catalogue(catalogue: Any) -> None:
    counts = Counter(objects.object_class(catalogue.name, catalogue.designator))
    assert counts["station"] == 2
    assert counts["debris"] == 0  # a list of active payloads, published as such
    assert counts["rocket body"] == sum("R/B" in name for name in catalogue.name)
    assert counts["payload"] > 12_000


def test_one_row_for_each_real_station(catalogue: Any) -> None:
    flags = objects.is_station(catalogue.catalog_number, catalogue.name)
    assert sorted(catalogue.catalog_number[flags].tolist()) == [25544, 48274]


def test_real_visiting_craft_are_found_docked(catalogue: Any) -> None:
    # Who was docked on 2025-09-14 (public mission logs, from memory); Shenzhou 20 and
    # Tianzhou 9 at one station, the rest at the other.
    host = objects.attached(catalogue, EVENING)
    docked = {
        catalogue.name[row]: catalogue.name[host[row]]
        for row in np.flatnonzero(host >= 0)
    }
    assert docked == {
        "ISS (NAUKA)": "ISS (ZARYA)",
        "SOYUZ-MS 27": "ISS (ZARYA)",
        "PROGRESS-MS 31": "ISS (ZARYA)",
        "CREW DRAGON 11": "ISS (ZARYA)",
        "DRAGON CRS-33": "ISS (ZARYA)",
        "CSS (WENTIAN)": "CSS (TIANHE)",
        "CSS (MENGTIAN)": "CSS (TIANHE)",
        "SHENZHOU-20 (SZ-20)": "CSS (TIANHE)",
        "TIANZHOU-9": "CSS (TIANHE)",
    }


def test_fresh_launches_fly_in_file_and_old_ones_do_not(catalogue: Any) -> None:
    groups = objects.trains(catalogue, EVENING)
    sizes: dict[str, list[int]] = {}
    for group in range(int(groups.max()) + 1):
        rows = np.flatnonzero(groups == group)
        sizes.setdefault(catalogue.designator[rows[0]][:5], []).append(rows.size)
    # Launched with 24 to 28 craft in the three weeks before (public launch logs, from
    # memory): still one file, or nearly; spread over the orbit two months later.
    assert max(sizes["25195"]) == 28
    assert max(sizes["25191"]) == 24
    assert max(sizes["25194"]) >= 15
    assert "25157" not in sizes
    # Most craft of the large constellations fly alone.
    grouped = sum(sum(one) for one in sizes.values())
    assert grouped < 0.03 * len(catalogue.name)


def test_trains_hold_where_sgp4_puts_them(catalogue: Any) -> None:
    # sgp4 itself, without our secular rates: the largest train is a chain on one plane.
    groups = objects.trains(catalogue, EVENING)
    largest = Counter(groups[groups >= 0].tolist()).most_common(6)
    jd, fraction = jday(2025, 9, 14, 0, 0, 0)
    for group, _ in largest:
        members = [catalogue.satrecs[row] for row in np.flatnonzero(groups == group)]
        error, r, v = SatrecArray(members).sgp4(np.array([jd]), np.array([fraction]))
        assert not error.any()
        pole = np.cross(r[:, 0], v[:, 0])
        pole /= np.linalg.norm(pole, axis=1)[:, None]
        tilt = np.degrees(np.arccos(np.clip(pole @ pole[0], -1, 1)))
        unit = r[:, 0] / np.linalg.norm(r[:, 0], axis=1)[:, None]
        along = np.arctan2(unit @ np.cross(pole[0], unit[0]), unit @ unit[0])
        gaps = np.degrees(np.diff(np.sort(along)))
        # Osculating places swing about mean ones by some tenths of a degree.
        assert gaps.max() < 4.5
        assert tilt.max() < 1.0
