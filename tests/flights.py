"""Services with operators' ephemerides, for tests: made by skyfield, read by us."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from one_satellite import timescale
from skyfield.api import EarthSatellite
from skyfield.framelib import ICRS_to_J2000, itrs
from skyfield.sgp4lib import TEME

from passes.config import Config
from passes.elements import Catalogue, read
from passes.forecast import Forecast, Request, build
from passes.model import Site
from passes.registry import Registry

#: An invented place from which the station is seen six times in the ten hours.
SITE = Site(name="invented bank", latitude_deg=40.0, longitude_deg=150.0)
START = datetime(2025, 9, 13, 18, tzinfo=UTC)
END = START + timedelta(hours=10)
STATION = 80001
READERS = Path(__file__).parents[1] / "fixtures" / "elements" / "readers"
ELEMENTS = READERS / "bare-names.tle"


def services(**request) -> Forecast:
    """Services for the six invented objects of the readers' tests."""
    given = {
        "site": SITE,
        "start": START,
        "end": END,
        "element_files": (str(ELEMENTS),),
        **request,
    }
    registry = Registry.from_entry_points(only=("diffuse-sphere",))
    return build(Request(**given), registry, Config())


def satellite(number: int = STATION) -> EarthSatellite:
    """The object as skyfield knows it."""
    catalogue: Catalogue = read([ELEMENTS]).catalogue
    row = catalogue.catalog_number.tolist().index(number)
    return EarthSatellite.from_satrec(catalogue.satrec(row), timescale())


def states(
    frame: str,
    time_s: np.ndarray,
    start: datetime = START,
    of: EarthSatellite | None = None,
):
    """Places and velocities ``(n, 3)`` of the station by skyfield, in a frame."""
    moments = timescale().from_datetimes(
        [start + timedelta(seconds=float(s)) for s in time_s]
    )
    at = (of or satellite()).at(moments)
    turn = {
        "GCRF": lambda: (at.position.km, at.velocity.km_per_s),
        "EME2000": lambda: (
            ICRS_to_J2000 @ at.position.km,
            ICRS_to_J2000 @ at.velocity.km_per_s,
        ),
        "ITRF": lambda: tuple(
            part(one)
            for part, one in zip(
                (lambda d: d.km, lambda v: v.km_per_s),
                at.frame_xyz_and_velocity(itrs),
                strict=True,
            )
        ),
        "TEME": lambda: tuple(
            part(one)
            for part, one in zip(
                (lambda d: d.km, lambda v: v.km_per_s),
                at.frame_xyz_and_velocity(TEME),
                strict=True,
            )
        ),
    }
    place, velocity = turn[frame]()
    return place.T, velocity.T


def message(
    time_s: np.ndarray,
    place: np.ndarray,
    velocity: np.ndarray,
    *,
    frame: str = "TEME",
    name: str = "INVENTED STATION",
    object_id: str = "2025-901A",
    method: str = "LAGRANGE",
    degree: int = 9,
    made: str = "2025-09-13T12:00:00",
    start: datetime = START,
) -> str:
    """An ephemeris message, written without our own writer."""

    def iso(seconds: float) -> str:
        moment = start + timedelta(seconds=float(seconds))
        return moment.strftime("%Y-%m-%dT%H:%M:%S.%f")

    lines = [
        "CCSDS_OEM_VERS = 2.0",
        f"CREATION_DATE = {made}",
        "ORIGINATOR = INVENTED",
        "META_START",
        f"OBJECT_NAME = {name}",
        f"OBJECT_ID = {object_id}",
        "CENTER_NAME = EARTH",
        f"REF_FRAME = {frame}",
        "TIME_SYSTEM = UTC",
        f"START_TIME = {iso(time_s[0])}",
        f"STOP_TIME = {iso(time_s[-1])}",
        f"INTERPOLATION = {method}",
        f"INTERPOLATION_DEGREE = {degree}",
        "META_STOP",
    ]
    for seconds, r, v in zip(time_s, place, velocity, strict=True):
        numbers = [f"{x:.7f}" for x in r] + [f"{x:.10f}" for x in v]
        lines.append(" ".join([iso(seconds), *numbers]))
    return "\n".join(lines) + "\n"


def written(folder: Path, text: str, name: str = "one.oem") -> str:
    """The path of a file with that text."""
    path = folder / name
    path.write_text(text)
    return str(path)
