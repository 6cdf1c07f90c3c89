"""Invented element sets: a station and a rocket body, numbers from 80001 up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from passes.elements import Catalogue, ElementSet

#: The beginning of 2031-10-11, the 284th day of its year (Julian date, UTC).
_EPOCH_JD = 2463150.5
_NAMES = ("SAMPLE STATION", "SAMPLE ROCKET BODY")
_LINES = (
    "1 80001U 31001A   31284.50000000  .00010000  00000+0  18000-3 0  999",
    "2 80001  51.6000 120.0000 0004000  80.0000 280.0000 15.50000000  100",
    "1 80002U 29014B   31284.25000000  .00000200  00000+0  40000-4 0  999",
    "2 80002  81.2000  30.0000 0020000 200.0000 160.0000 14.20000000  120",
)


def element_text() -> str:
    """Two element sets in three-line form, with their checksums."""
    lines = [line + str(_checksum(line)) for line in _LINES]
    return "\n".join((_NAMES[0], *lines[:2], _NAMES[1], *lines[2:], ""))


def _checksum(line: str) -> int:
    """The modulo-10 sum of the format: digits count themselves, a minus one."""
    return sum(int(c) if c.isdigit() else c == "-" for c in line) % 10


def element_sets() -> tuple[ElementSet, ...]:
    """The same two as records."""
    from math import pi, radians

    from passes.elements import ElementSet

    def made(number: int, name: str, designator: str, **given: float) -> ElementSet:
        revolutions = given.pop("revolutions_day")
        return ElementSet(
            catalog_number=number,
            name=name,
            designator=designator,
            mean_motion_rad_min=revolutions * 2.0 * pi / 1440.0,
            origin="sample",
            **given,
        )

    return (
        made(
            80001,
            _NAMES[0],
            "2031-001A",
            epoch_jd=_EPOCH_JD,
            epoch_fraction=0.5,
            inclination_rad=radians(51.6),
            raan_rad=radians(120.0),
            eccentricity=0.0004,
            argument_rad=radians(80.0),
            mean_anomaly_rad=radians(280.0),
            revolutions_day=15.5,
            bstar=1.8e-4,
        ),
        made(
            80002,
            _NAMES[1],
            "2029-014B",
            epoch_jd=_EPOCH_JD,
            epoch_fraction=0.25,
            inclination_rad=radians(81.2),
            raan_rad=radians(30.0),
            eccentricity=0.002,
            argument_rad=radians(200.0),
            mean_anomaly_rad=radians(160.0),
            revolutions_day=14.2,
            bstar=4.0e-5,
        ),
    )


def catalogue() -> Catalogue:
    """The same two as a catalogue."""
    import numpy as np

    from passes.elements import ELEMENT_COLUMNS, Catalogue

    sets = element_sets()
    columns: dict[str, Any] = {
        column: np.array([getattr(one, column) for one in sets])
        for column in ELEMENT_COLUMNS
    }
    return Catalogue(
        catalog_number=np.array([one.catalog_number for one in sets]),
        name=tuple(one.name for one in sets),
        designator=tuple(one.designator for one in sets),
        origin=tuple(one.origin for one in sets),
        **columns,
    )
