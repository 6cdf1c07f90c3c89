"""Streaks as images of real objects would show them: one day's sets in another's night.

Who crosses a field is found with the sets of the image's own night, places are
skyfield's on those sets, pixels astropy's (tangent, turned, flipped or with SIP
distortion), and each end is measured to one or two pixels.  Who made a streak is then
asked of the sets of another day.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from astropy.io import fits
from astropy.wcs import WCS
from numpy.polynomial import Chebyshev
from one_satellite import moments, planets, seen_by_skyfield

from passes.config import Config
from passes.forecast import Request, build
from passes.model import Crossing, Session, Site, Span, Sub, Target
from passes.registry import Registry
from passes_plugins.streaks.candidates import Streak
from passes_plugins.streaks.from_files import Recorded
from passes_plugins.streaks.identifying import Identification, identify
from passes_plugins.streaks.seen_streaks import of_image
from passes_plugins.streaks.solved import solved_frame

SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
SIZE, SCALE_ARCSEC = (3600, 2520), 2.0
EXPOSURES_S = (5.0, 30.0, 120.0, 300.0)
#: How far a camera's clock is off, and how well an end is measured.
CLOCK_S, END_PX = 0.3, 1.5
#: Fields are looked at for so long, and give so many streaks at most.
_LOOK, _MOST = timedelta(minutes=40), 8
#: Bent frames reach a little beyond the field that is searched.
_BESIDE = timedelta(seconds=1.0)
#: Shorter streaks are dots.
_LEAST_PX = 25.0


@dataclass(frozen=True)
class Made:
    """A streak, who made it, and how long before the night that asks its sets are."""

    streak: Streak
    number: int
    name: str


def services(folder: Path, set_day: int, night: int) -> Any:
    """The host over a night of September 2025, with the sets of one day."""
    start = datetime(2025, 9, night, 19, 30, tzinfo=UTC)
    request = Request(
        site=SITE,
        element_files=(str(folder / f"active_2025-09-{set_day}.tle.gz"),),
        start=start,
        end=start + timedelta(hours=9),
    )
    return build(request, Registry(), Config())


def made(folder: Path, night: int, count: int, seed: int) -> Iterator[Made]:
    """So many streaks of one night, by that night's own sets."""
    rng = np.random.default_rng(seed)
    host = services(folder, night, night)
    catalogue = host.catalogue()
    rows = {int(n): i for i, n in enumerate(catalogue.catalog_number)}
    left = count
    while left:
        header = _header(rng)
        frame = solved_frame(header)
        assert frame is not None
        begin = host.window.start + timedelta(seconds=rng.uniform(0.0, 8.0 * 3600.0))
        span = Span(start=begin, end=begin + _LOOK)
        lit = [
            one
            for one in host.crossings(frame.line_of_sight(), window=span)
            if one.sunlit and one.altitude_deg > 15.0
        ]
        for one in rng.permutation(np.arange(len(lit)))[:_MOST]:
            row = rows[lit[one].catalog_number]
            found = _image(rng, lit[one], catalogue, row, header)
            if found is not None and left:
                left -= 1
                yield Made(found, lit[one].catalog_number, lit[one].name)


def _header(rng: np.random.Generator) -> fits.Header:
    """A plate solution anywhere on the sky: turned, perhaps flipped, perhaps bent."""
    angle, flip = rng.uniform(0.0, 2.0 * np.pi), rng.choice([-1.0, 1.0])
    c, s = SCALE_ARCSEC / 3600.0 * np.array([np.cos(angle), np.sin(angle)])
    header = fits.Header({"SIMPLE": True, "BITPIX": 16, "NAXIS": 2})
    header["NAXIS1"], header["NAXIS2"] = SIZE
    header["CTYPE1"], header["CTYPE2"] = "RA---TAN", "DEC--TAN"
    header["CRVAL1"] = rng.uniform(0.0, 360.0)
    header["CRVAL2"] = np.degrees(np.arcsin(rng.uniform(-0.3, 0.98)))
    header["CRPIX1"], header["CRPIX2"] = (
        rng.uniform(1, SIZE[0]),
        rng.uniform(1, SIZE[1]),
    )
    header["CD1_1"], header["CD1_2"] = -flip * c, s
    header["CD2_1"], header["CD2_2"] = flip * s, c
    if rng.random() < 0.5:
        header["CTYPE1"], header["CTYPE2"] = "RA---TAN-SIP", "DEC--TAN-SIP"
        header["A_ORDER"] = header["B_ORDER"] = 2
        for key in ("A_2_0", "A_1_1", "A_0_2", "B_2_0", "B_1_1", "B_0_2"):
            header[key] = rng.normal(0.0, 1.5e-6)  # some 10 px at the corners
    return header


def _image(
    rng: np.random.Generator,
    crossing: Crossing,
    catalogue: Any,
    row: int,
    header: fits.Header,
) -> Streak | None:
    """What one object leaves in one sub; None where that is hardly more than a dot."""
    exposure_s = float(rng.choice(EXPOSURES_S))
    stay_s = (crossing.exit.time - crossing.entry.time).total_seconds()
    start = crossing.entry.time + timedelta(seconds=rng.uniform(-exposure_s, stay_s))
    first = max(start, crossing.entry.time - _BESIDE)
    last = min(start + timedelta(seconds=exposure_s), crossing.exit.time + _BESIDE)
    seconds = np.linspace(0.0, (last - first).total_seconds(), 3001)
    x, y = _path(catalogue, row, first, seconds, WCS(header))
    inside = (x > 0.5) & (x < SIZE[0] + 0.5) & (y > 0.5) & (y < SIZE[1] + 0.5)
    if inside.sum() < 2:
        return None
    ends = np.stack([x[inside][[0, -1]], y[inside][[0, -1]]], axis=-1)
    if np.hypot(*(ends[1] - ends[0])) < _LEAST_PX:
        return None
    ends += rng.normal(0.0, END_PX, (2, 2))
    if rng.random() < 0.5:  # nobody knows which way it went
        ends = ends[::-1]
    said = start + timedelta(seconds=rng.normal(0.0, CLOCK_S))
    return _seen(header, said, exposure_s, ends)


def _path(
    catalogue: Any, row: int, start: datetime, seconds: np.ndarray, wcs: WCS
) -> tuple[np.ndarray, np.ndarray]:
    """Pixels of an object at seconds from a start, by skyfield and astropy.

    Between a few places of theirs a polynomial runs, within a hundredth of a pixel.
    """
    satellite, place = seen_by_skyfield(catalogue, row, SITE)
    earth = planets()["earth"]
    few = np.linspace(seconds[0], seconds[-1], 21)
    t = moments(start, few)
    ra, dec, _ = (earth + place).at(t).observe(earth + satellite).radec()
    pixels = wcs.all_world2pix(ra.hours * 15.0, dec.degrees, 1, quiet=True)
    x, y = (Chebyshev.fit(few, one, 9)(seconds) for one in pixels)
    return x, y


def _seen(
    header: fits.Header, start: datetime, exposure_s: float, ends: np.ndarray
) -> Streak:
    """The streak as the program has it from an image."""
    frame = solved_frame(header)
    assert frame is not None
    target = Target(name="field", ra_deg=frame.ra_deg, dec_deg=frame.dec_deg)
    sub = Sub(index=1, start=start, exposure_s=exposure_s, target=target)
    image = Recorded(session=Session(subs=(sub,)), services=None, frames={1: frame})
    (a, b) = ((float(x), float(y)) for x, y in np.clip(ends, 0.5, np.array(SIZE) + 0.5))
    return of_image(image, (a, b), 0.5)


def asked(one: Made, host: Any) -> tuple[int, Identification]:
    """The rank of who made it (0: not among the candidates), and the answer."""
    found = identify(one.streak, host)
    numbers = [each.crossing.catalog_number for each in found.candidates]
    rank = numbers.index(one.number) + 1 if one.number in numbers else 0
    return rank, found
