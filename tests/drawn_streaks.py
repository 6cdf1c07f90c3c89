"""Images with a streak drawn from a demo object's places, for tests.

The places are skyfield's (reference library), the pixels astropy's; neither has
anything of the program in it.
"""

from datetime import UTC, datetime
from typing import Any

import numpy as np
from astropy.io import fits
from astropy.wcs import WCS, Sip
from demo_sky import DEMO, records, table
from one_satellite import planets
from skyfield.api import EarthSatellite, load, wgs84

MIRROR = 80031
#: When DEMO MIRROR is in the middle of the field.
MIDDLE = datetime(2029, 3, 17, 20, 3, 14, tzinfo=UTC)


def places(number: int, start: datetime, seconds: Any, late_s: float = 0.0) -> Any:
    """RA and Dec, degrees, of a demo object from the demo's site at seconds.

    One that is late flies the orbit of its elements so much later.
    """
    text = (DEMO / "elements.tle").read_text(encoding="utf-8")
    ts = load.timescale(builtin=True)
    _, one, two = next(each for each in records(text) if int(each[1][2:7]) == number)
    site = table("sites.toml")["sites"]["quillmoor"]
    ground = wgs84.latlon(
        site["latitude_deg"], site["longitude_deg"], elevation_m=site["height_m"]
    )
    days = np.asarray(seconds) / 86400.0
    t0 = ts.from_datetime(start)
    t = ts.utc(*start.utctimetuple()[:5], start.second + np.asarray(seconds))
    assert abs(t.tt[0] - t0.tt - days[0]) < 1e-8
    earth = planets()["earth"]
    satellite = EarthSatellite(one, two, ts=ts)
    satellite.model.jdsatepochF += late_s / 86400.0
    satellite = EarthSatellite.from_satrec(satellite.model, ts)
    ra, dec, _ = (earth + ground).at(t).observe(earth + satellite).radec()
    return ra.hours * 15.0, dec.degrees


def solution(
    turn_deg: float = 20.0, *, mirrored: bool = False, bent: bool = False
) -> WCS:
    """A field of 2.8 × 1.9° in the demo plan's direction, east to the left.

    ``bent`` adds SIP terms of some ten pixels at the corners.
    """
    wcs = WCS(naxis=2)
    end = "-SIP" if bent else ""
    wcs.wcs.ctype = [f"RA---TAN{end}", f"DEC--TAN{end}"]
    wcs.wcs.crval = [148.92, 69.35]
    wcs.wcs.crpix = [500.5, 340.5]
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    scale = 10.0 / 3600.0
    side = -1.0 if mirrored else 1.0
    wcs.wcs.cd = scale * np.array([[-side * c, s], [side * s, c]])
    if bent:
        a, b = np.zeros((3, 3)), np.zeros((3, 3))
        a[2, 0], a[1, 1], b[0, 2], b[1, 1] = 4e-5, -3e-5, 5e-5, 4e-5
        wcs.sip = Sip(a, b, None, None, wcs.wcs.crpix)
    wcs.wcs.set()
    return wcs


def image(
    path: Any,
    opened: datetime,
    exposure_s: float,
    number: int,
    wcs: WCS | None = None,
    late_s: float = 0.0,
) -> Any:
    """Draw what an object leaves on a sub, and give the streak's ends in pixels."""
    wcs = wcs or solution()
    seconds = np.linspace(0.0, exposure_s, 20_001)
    ra, dec = places(number, opened, seconds, late_s)
    near = np.abs(dec - 69.35) < 4.0
    x, y = (np.full(seconds.size, -1.0) for _ in range(2))
    x[near], y[near] = wcs.all_world2pix(ra[near], dec[near], 1, quiet=True)
    inside = (x > 0.5) & (x < 1000.5) & (y > 0.5) & (y < 680.5)
    pixels = np.random.default_rng(4).normal(100.0, 3.0, (680, 1000))
    column = np.rint(x[inside] - 1).astype(int).clip(0, 999)
    pixels[np.rint(y[inside] - 1).astype(int).clip(0, 679), column] += 500.0
    header = wcs.to_header(relax=True)
    header["DATE-OBS"] = f"{opened:%Y-%m-%dT%H:%M:%S}.{opened.microsecond // 1000:03d}"
    header["TIMESYS"] = "UTC"
    header["EXPTIME"] = exposure_s
    fits.PrimaryHDU(pixels.astype(np.float32), header).writeto(path)
    on = np.argwhere(pixels > 400.0)
    places_px = on[:, ::-1] + 1.0
    along = np.stack([x[inside], y[inside]], axis=-1)
    ends = [
        places_px[np.hypot(*(places_px - end).T).argmin()]
        for end in (along[0], along[-1])
    ]
    return [f"{a:.1f},{b:.1f}" for a, b in ends]
