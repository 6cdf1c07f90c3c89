"""The packaged standard magnitudes against published sightings and worked examples.

Everything goes through the model as the program uses it, table included.
"""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from passes import objects
from passes.contributions import Illumination, ObjectFacts
from passes_plugins import diffuse_sphere

#: Two published decimals of a mean and of its distance-reduced twin.
PRINTED = 0.01


def seen(
    name: str,
    range_km: float,
    phase_deg: float,
    table: Path | None = None,
    **known: Any,
) -> tuple[float, float]:
    """Magnitude and sigma of one object at one geometry."""
    kind = objects.object_class([name])[0]
    whole = {"catalog_number": 80001, "name": name, "object_class": kind} | known
    answer = diffuse_sphere.magnitude(
        Illumination(
            facts=(ObjectFacts(**whole),),
            object_index=[0],
            range_km=[range_km],
            phase_angle_rad=[np.radians(phase_deg)],
            altitude_rad=[1.0],
            settings={"table": str(table)} if table else {},
        )
    )
    return float(answer.magnitude[0]), float(answer.sigma[0])


def test_the_station_worked_example() -> None:
    # Inputs: astronomy.stackexchange.com 28744 (-1.8, 485 km, 113.1°); result computed
    # independently.
    magnitude, _ = seen("ISS (ZARYA)", 485.0, 113.1, catalog_number=25544)
    assert magnitude == pytest.approx(-2.532, abs=5e-4)


@pytest.mark.parametrize(
    ("standard", "range_km", "phase_deg", "published"),
    [
        # SeeSat-L 2001-04, message 0313.
        (5.5, 1600.0, 90.0, 6.52),
        # SeeSat-L 2000-12, message 0288, inverted: seen at +5.0 it is 5.94 at 90°.
        (5.94, 1000.0, 45.0, 5.0),
    ],
)
def test_observers_worked_examples(
    tmp_path: Path, standard: float, range_km: float, phase_deg: float, published: float
) -> None:
    table = tmp_path / "own.csv"
    table.write_text(f"name,value,sigma,convention\nX,{standard},0.5,lambert90\n")
    magnitude, _ = seen("X", range_km, phase_deg, table)
    assert magnitude == pytest.approx(published, abs=5e-3)


def test_the_physical_model(tmp_path: Path) -> None:
    # Albedo × radius² of 0.25 m² at 1000 km, fully lit, with the Sun at V -26.75
    # (attributed to Hainaut & Williams 2020; figure computed): 4.755.
    sun, albedo_radius2 = -26.75, 0.25
    standard = sun - 2.5 * np.log10(albedo_radius2) + 5.0 * np.log10(1e6)
    assert standard == pytest.approx(4.755, abs=5e-4)
    table = tmp_path / "own.csv"
    table.write_text(f"name,value,sigma,convention\nX,{standard},0.5,full\n")
    # Diffuse sphere, fainter than full by 0.5385 at 60° and 2.4065 at 120° (computed
    # from Vallerie 1963's law).
    for phase_deg, fainter in ((0.0, 0.0), (60.0, 0.5385), (120.0, 2.4065)):
        magnitude, _ = seen("X", 1000.0, phase_deg, table)
        assert magnitude == pytest.approx(4.755 + fainter, abs=1e-3)


@pytest.mark.parametrize(
    ("known", "apparent", "range_km"),
    [
        # Published mean as seen, and the range at which it and the mean reduced to
        # 1000 km agree (computed): a plausible mean pass in every case.
        # arXiv:2306.06657
        ({"name": "STARLINK-30301", "perigee_km": 550.0}, 7.06, 689.0),
        # arXiv:2502.03651
        ({"name": "STARLINK-11100", "perigee_km": 350.0}, 5.16, 547.0),
        # arXiv:2505.05820
        ({"name": "SPACEMOBILE-001", "designator": "24163A"}, 3.44, 832.0),
        # arXiv:2505.07194
        ({"name": "QIANFAN-1", "perigee_km": 1070.0}, 5.76, 1271.0),
    ],
)
def test_mean_as_seen_and_mean_at_1000_km(
    known: dict[str, Any], apparent: float, range_km: float
) -> None:
    for phase_deg in (40.0, 110.0):  # a mean over phases: phase changes nothing
        magnitude, _ = seen(range_km=range_km, phase_deg=phase_deg, **known)
        assert magnitude == pytest.approx(apparent, abs=PRINTED)


@pytest.mark.parametrize(
    ("designator", "name", "characteristic"),
    [
        # arXiv:2210.17268: overhead at 550 km at the end of astronomical twilight.
        ("2020-001A", "STARLINK-1073", 4.7),
        ("2020-070A", "STARLINK-1600", 6.2),
        ("2022-001A", "STARLINK-3240", 5.5),
    ],
)
def test_characteristic_magnitudes(
    designator: str, name: str, characteristic: float
) -> None:
    magnitude, _ = seen(name, 550.0, 72.0, designator=designator, perigee_km=550.0)
    assert magnitude == pytest.approx(characteristic, abs=PRINTED)


@pytest.mark.parametrize(
    ("known", "height_km", "middle", "brightest_5"),
    [
        # Hall 2023, J. Astronaut. Sci., doi 10.1007/s40295-022-00358-4: zenith
        # magnitudes that 50 % and 95 % of sightings stay fainter than.
        ({"name": "ONEWEB-0012"}, 1200.0, 7.67, 6.27),
        ({"name": "IRIDIUM 106", "designator": "17003A"}, 780.0, 5.46, 4.63),
        ({"name": "STARLINK-1600", "designator": "2020-070A"}, 550.0, 6.12, 4.68),
    ],
)
def test_sigma_covers_the_published_spread(
    known: dict[str, Any], height_km: float, middle: float, brightest_5: float
) -> None:
    magnitude, sigma = seen(range_km=height_km, phase_deg=72.0, **known)
    # The visored Starlink rests on another paper than the one it is held against.
    assert magnitude == pytest.approx(middle, abs=0.1)
    spread = (middle - brightest_5) / 1.645
    assert spread - 0.01 <= sigma <= spread + 0.25


def test_the_prototype_array_overhead() -> None:
    # arXiv:2305.00831: 1.4 at zenith; its orbit is some 510 km high (from memory).
    magnitude, sigma = seen("BLUEWALKER-3", 510.0, 72.0, catalog_number=53807)
    assert magnitude == pytest.approx(1.4, abs=0.5)
    assert sigma >= 0.5


def test_geostationary_craft() -> None:
    # V 11 to 13 from 36,000 km (common practice, no source).
    magnitude, sigma = seen(
        "INVENTED GEO", 36_000.0, 30.0, perigee_km=35_780.0, apogee_km=35_790.0
    )
    assert magnitude == pytest.approx(12.0, abs=0.05)
    assert magnitude - sigma >= 11.0 - 0.05
    assert magnitude + sigma <= 13.0 + 0.05


def size_rows() -> list[objects.StandardRow]:
    tables = (diffuse_sphere.packaged_table(), objects.class_averages())
    return [
        row for table in tables for row in table.rows if "size rule, A" in row.source
    ]


def test_estimates_from_size_follow_the_physical_model() -> None:
    # As above, radius² = area / π, then from full to half lit (2.5 log π = 1.2429).
    rows = [row for row in size_rows() if row.basis != "observers' lore"]
    assert len(rows) > 40
    for row in rows:
        area = re.search(r"A ([\d.]+) m2", row.source)
        albedo = re.search(r"albedo ([\d.]+)", row.source)
        assert area
        light = (float(albedo[1]) if albedo else 0.2) * float(area[1]) / np.pi
        expected = -26.75 - 2.5 * np.log10(light) + 30.0 + 1.2429
        assert row.value_mag == pytest.approx(expected, abs=0.06), row.source
        assert row.convention == "lambert90"


def test_stages_turn_end_over_end() -> None:
    # A convex body turning every way shows a quarter of its surface (Cauchy 1841); the
    # lengths and widths are those of the size table.
    stages = [row for row in size_rows() if row.basis.endswith(": stage")]
    assert len(stages) >= 6
    for row in stages:
        size = objects.size_of(0, row.pattern.rstrip("*"))
        assert size
        long, wide = size.length_m, size.width_m
        area = (np.pi * wide * long + np.pi * wide**2 / 2) / 4
        stated = re.search(r"A ([\d.]+) m2", row.source)
        assert stated
        assert float(stated[1]) == pytest.approx(area, rel=0.03), row.source
