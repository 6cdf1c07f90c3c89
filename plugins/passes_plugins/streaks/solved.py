"""The frame of a plate solution."""

from __future__ import annotations

from math import degrees, hypot
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes import field as plane
from passes.constants import ARCSEC_PER_RAD
from passes.errors import InputError
from passes_plugins.streaks.equinox import Equinox
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.headers import size_of
from passes_plugins.streaks.solution import wcs_of

Floats = NDArray[np.float64]

#: Pixels further away than so many diagonals of the frame are not told.
_FARTHEST = 20.0


def solved_frame(header: Any, equinox: Equinox | None = None) -> Frame | None:
    """The frame of a plate solution, distortion in its pixels; None without one.

    ``equinox`` is that of the solution, None for ICRS.  InputError where a solution is
    there but makes no sense.
    """
    ctype = str(header.get("CTYPE1", "")) + str(header.get("CTYPE2", ""))
    if "RA--" not in ctype or "DEC-" not in ctype:
        return None
    try:
        wcs = wcs_of(header)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        said = [line for line in str(error).splitlines() if line.strip()]
        why = said[-1].strip()[:120] if said else type(error).__name__
        raise InputError(f"its plate solution fails: {why}") from None
    return _frame(_Solution(wcs, size_of(header), equinox))


class _Solution:
    """Pixels and ICRS places by one solution, degrees."""

    def __init__(
        self, wcs: Any, size_px: tuple[int, int], equinox: Equinox | None
    ) -> None:
        self.wcs, self.size_px, self.equinox = wcs, size_px, equinox

    def sky(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Places of pixels ``(n,)``."""
        ra, dec = self.wcs.all_pix2world(x, y, 1, ra_dec_order=True)
        return self.equinox.to_icrs(ra, dec) if self.equinox else (ra, dec)

    def pixels(self, ra_deg: Floats, dec_deg: Floats) -> tuple[Floats, Floats]:
        """Pixels of places, ``(...)`` each."""
        if self.equinox:
            ra_deg, dec_deg = self.equinox.from_icrs(ra_deg, dec_deg)
        places = np.broadcast_arrays(ra_deg, dec_deg)
        shape = places[0].shape
        flat = [np.ravel(one) for one in places]
        x, y = self.wcs.all_world2pix(*flat, 1, quiet=True, ra_dec_order=True)
        # distortion is known within the frame; far outside its terms run away
        wild = ~(np.hypot(x, y) < _FARTHEST * hypot(*self.size_px))
        x, y = (np.where(wild, np.nan, one) for one in (x, y))
        return np.reshape(x, shape), np.reshape(y, shape)


def _frame(solution: _Solution) -> Frame:
    width, height = solution.size_px
    x, y = (width + 1) / 2.0, (height + 1) / 2.0
    ra, dec = solution.sky(np.array([x, x + 1.0, x]), np.array([y, y, y + 1.0]))
    if not np.isfinite([*ra, *dec]).all():
        raise InputError("its plate solution puts the middle nowhere")
    lon, lat = np.radians(ra), np.radians(dec)
    east, north = plane.standard(lon[1:], lat[1:], lon[0], lat[0])
    area = east[0] * north[1] - east[1] * north[0]
    if not abs(area) > 0.0:
        raise InputError("its plate solution has no scale")
    return Frame(
        ra_deg=float(ra[0]) % 360.0,
        dec_deg=float(dec[0]),
        position_angle_deg=degrees(float(np.arctan2(east[1], north[1]))) % 360.0,
        width_px=width,
        height_px=height,
        scale_arcsec_px=float(np.sqrt(abs(area))) * ARCSEC_PER_RAD,
        mirrored=bool(area > 0.0),
        solved=solution.pixels,
    )
