"""Invented objects in typical orbits, and skyfield's view of the same elements."""

from datetime import UTC, datetime
from functools import cache

import numpy as np
from sgp4.api import Satrec
from skyfield.api import EarthSatellite, load, load_file, wgs84
from skyfield_data import __file__ as data_package

from passes.elements import Catalogue
from passes.elements.catalogue import ELEMENT_COLUMNS

#: Epoch of the invented objects: 2024-03-20 00:00 UTC.
EPOCH_JD = 2460389.5
START = datetime(2024, 3, 20, 18, 0, tzinfo=UTC)

#: Name, inclination, node, eccentricity, perigee argument, anomaly (degrees), revs/day.
INVENTED = (
    ("LOW STATION", 51.64, 100.0, 0.0005, 50.0, 310.0, 15.50),
    ("POLAR SURVEYOR", 97.60, 210.0, 0.0011, 80.0, 20.0, 15.15),
    ("LONG ELLIPSE", 63.40, 300.0, 0.7200, 270.0, 10.0, 2.006),
    ("TRANSFER STAGE", 6.00, 40.0, 0.7290, 178.0, 2.0, 2.270),
    ("STILL RELAY", 0.05, 80.0, 0.0002, 10.0, 30.0, 1.00273),
)


def catalogue(late_s: float | None = None) -> Catalogue:
    """The invented objects, catalogue numbers from 80001."""
    n = len(INVENTED)
    angle = np.radians(np.array([row[1:3] for row in INVENTED]))
    rest = np.array([row[3:] for row in INVENTED])
    return Catalogue(
        catalog_number=np.arange(80001, 80001 + n),
        name=tuple(row[0] for row in INVENTED),
        designator=("",) * n,
        epoch_jd=np.full(n, EPOCH_JD),
        epoch_fraction=np.zeros(n),
        inclination_rad=angle[:, 0],
        raan_rad=angle[:, 1],
        eccentricity=rest[:, 0],
        argument_rad=np.radians(rest[:, 1]),
        mean_anomaly_rad=np.radians(rest[:, 2]),
        mean_motion_rad_min=rest[:, 3] * 2 * np.pi / 1440.0,
        bstar=np.full(n, 2e-5),
        ndot=np.zeros(n),
        nddot=np.zeros(n),
        late_s=None if late_s is None else np.full(n, late_s),
    )


def catalogue_of_lines(line1: str, line2: str, name: str = "") -> Catalogue:
    """One published element set as a catalogue, through sgp4's own parser."""
    satrec = Satrec.twoline2rv(line1, line2)
    names = ("jdsatepoch", "jdsatepochF", "inclo", "nodeo", "ecco", "argpo", "mo")
    names = (*names, "no_kozai", "bstar", "ndot", "nddot")
    columns = {
        column: np.array([getattr(satrec, one)])
        for column, one in zip(ELEMENT_COLUMNS, names, strict=True)
    }
    return Catalogue(
        catalog_number=np.array([satrec.satnum]),
        name=(name,),
        designator=("",),
        **columns,
    )


@cache
def timescale():
    """Skyfield's built-in time scale."""
    return load.timescale(builtin=True)


@cache
def planets():
    """DE421 as packaged."""
    folder = data_package.rsplit("/", 1)[0]
    return load_file(f"{folder}/data/de421.bsp")


def moments(start: datetime, time_s):
    """Skyfield's times at seconds from an aware UTC start."""
    s = start.second + start.microsecond * 1e-6 + np.asarray(time_s)
    return timescale().utc(
        start.year, start.month, start.day, start.hour, start.minute, s
    )


def seen_by_skyfield(objects: Catalogue, row: int, site):
    """Skyfield's satellite and place for one row and one of our sites."""
    satellite = EarthSatellite.from_satrec(objects.satrec(row), timescale())
    place = wgs84.latlon(
        site.latitude_deg, site.longitude_deg, elevation_m=site.height_m
    )
    return satellite, place
