"""Places of another equinox than 2000 turned to ICRS, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes import vectors
from passes.constants import ARCSEC_PER_RAD
from passes.errors import InputError

Floats = NDArray[np.float64]

#: Nearer to 2000 than this a place is taken as it stands (20″), years.
_SAME_YEARS = 0.5
_YEAR = re.compile(r"\s*[JB]?\s*(\d{4}(?:\.\d*)?)\s*\Z", re.IGNORECASE)
_NOW = ("JNOW", "NOW", "DATE", "APPARENT")


@dataclass(frozen=True, slots=True, eq=False)
class Equinox:
    """The mean equator and equinox of a year; ``turn`` leads there from ICRS."""

    year: float
    turn: Floats

    @classmethod
    def of(cls, year: float) -> Equinox:
        """Precession since 2000 (Lieske et al. 1977, A&A 58, 1)."""
        t = (year - 2000.0) / 100.0
        zeta, z, theta = (
            float(np.polyval((*terms, 0.0), t)) / ARCSEC_PER_RAD
            for terms in (
                (0.017998, 0.30188, 2306.2181),
                (0.018203, 1.09468, 2306.2181),
                (-0.041833, -0.42665, 2004.3109),
            )
        )
        (cz, ct, ce), (sz, st, se) = np.cos([z, theta, zeta]), np.sin([z, theta, zeta])
        turn = np.array(
            [
                [cz * ct * ce - sz * se, -cz * ct * se - sz * ce, -cz * st],
                [sz * ct * ce + cz * se, -sz * ct * se + cz * ce, -sz * st],
                [st * ce, -st * se, ct],
            ]
        )
        return cls(year, turn)

    def to_icrs(self, ra_deg: ArrayLike, dec_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Places of this equinox as ICRS, degrees, ``(...)`` each."""
        return _turned(self.turn.T, ra_deg, dec_deg)

    def from_icrs(self, ra_deg: ArrayLike, dec_deg: ArrayLike) -> tuple[Floats, Floats]:
        """ICRS places as they are called in this equinox, degrees, ``(...)`` each."""
        return _turned(self.turn, ra_deg, dec_deg)


def _turned(
    turn: Floats, ra_deg: ArrayLike, dec_deg: ArrayLike
) -> tuple[Floats, Floats]:
    toward = vectors.direction(np.radians(ra_deg), np.radians(dec_deg))
    lon, lat, _ = vectors.spherical(vectors.apply(turn, toward))
    return np.degrees(lon) % 360.0, np.degrees(lat)


def equinox_of(header: Mapping[str, Any], when: datetime) -> Equinox | None:
    """The equinox of a header's places; None where that is 2000 (or ICRS).

    ``when`` is the exposure, for places said to be of date.  InputError for an
    equinox that is none.
    """
    if str(header.get("RADESYS", header.get("RADECSYS", ""))).strip() == "ICRS":
        return None
    value = header.get("EQUINOX")
    if value is None or isinstance(value, bool) or str(value).strip() == "":
        return None
    if str(value).strip().upper() in _NOW:
        year = when.year + when.timetuple().tm_yday / 365.25
    else:
        match = _YEAR.match(str(value))
        year = float(match[1]) if match else np.nan
    if not 1800.0 <= year <= 2200.0:
        raise InputError(f"EQUINOX {value!r} is no year of an equinox")
    return None if abs(year - 2000.0) < _SAME_YEARS else Equinox.of(year)
