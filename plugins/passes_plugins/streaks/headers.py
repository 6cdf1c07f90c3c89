"""What a header says of a sub: field, filter, gain, optics and site."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from math import degrees, hypot, isfinite, nan, radians
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes import strip, vectors
from passes.errors import InputError
from passes.model import Gain, Rig, Site
from passes.plans import sexagesimal_deg

#: Keywords in common use, in order of trust; none of these is in the standard.
_RA = ("RA", "OBJCTRA", "RA_DEG", "CRVAL1")
_DEC = ("DEC", "OBJCTDEC", "DEC_DEG", "CRVAL2")
_PLACES = (
    ("OBSGEO-B", "OBSGEO-L", "OBSGEO-H"),  # FITS 4.0, section 8.4.1
    ("SITELAT", "SITELONG", "SITEELEV"),
    ("LATITUDE", "LONGITUD", "ALTITUDE"),
)
#: Keywords that name one place may lie so far apart, degrees.
_SAME_DEG = 0.5
#: Frames that hold no sky.
_NO_LIGHT = ("dark", "bias", "flat", "offset")
#: Nobody stands nearer to the Earth's centre, m.
_LEAST_RADIUS_M = 6.3e6
#: A pixel where only the scale is known; scale and focal length then fit each other.
_PIXEL_UM = 4.0
#: What a rig is called that only the headers describe.
HEADERS_RIG = "the headers' rig"


def kind_of(header: Mapping[str, Any]) -> str:
    """What kind of frame it is, if it is no picture of the sky; else nothing."""
    word = str(header.get("IMAGETYP", header.get("FRAME", ""))).casefold()
    return next((kind for kind in _NO_LIGHT if kind in word), "")


def value_of(header: Mapping[str, Any], key: str) -> str | float | None:
    """What a keyword holds, if that is text or a number; None where it is empty."""
    value = header.get(key)
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return None
    return None if value == "" else value


def text_of(header: Mapping[str, Any], *keys: str) -> str:
    """The first keyword that says anything, as text."""
    for key in keys:
        value = value_of(header, key)
        if value is not None:
            text = f"{value:g}" if isinstance(value, float) else str(value)
            return text.strip()
    return ""


def number_of(header: Mapping[str, Any], *keys: str) -> float:
    """The first keyword that holds a finite number; nan if none."""
    for key in keys:
        value = value_of(header, key)
        try:
            number = nan if value is None else float(value)
        except ValueError:
            continue
        if isfinite(number):
            return number
    return nan


@dataclass(frozen=True, slots=True)
class Pointing:
    """Where a header points, ICRS degrees."""

    ra_deg: float
    dec_deg: float


def pointing_of(header: Mapping[str, Any]) -> Pointing:
    """The middle of the frame from keywords; InputError where there are none."""
    ra, dec = _angle(header, _RA, hours=True), _angle(header, _DEC, hours=False)
    if ra is None or dec is None:
        raise InputError("no place on the sky: no plate solution, no RA and DEC")
    if not 0.0 <= ra <= 360.0 or not -90.0 <= dec <= 90.0:
        raise InputError(f"RA {ra:g}°, Dec {dec:g}° is no place on the sky")
    return Pointing(ra % 360.0, dec)


def pointing_remarks(header: Mapping[str, Any]) -> list[str]:
    """Where two pairs of keywords put the field in different places."""
    found: dict[str, NDArray[np.float64]] = {}
    for ra, dec in zip(_RA[:2], _DEC[:2], strict=True):
        with suppress(InputError):
            place = pointing_of({key: header.get(key) for key in (ra, dec)})
            found[f"{ra}, {dec}"] = vectors.direction(
                radians(place.ra_deg), radians(place.dec_deg)
            )
    if len(found) < 2:
        return []
    name, other = found
    apart_deg = degrees(float(vectors.separation_rad(found[name], found[other])))
    if apart_deg < _SAME_DEG:
        return []
    return [f"{other} lie {apart_deg:.1f}° from {name}, which are taken"]


def _angle(
    header: Mapping[str, Any], keys: tuple[str, ...], *, hours: bool
) -> float | None:
    """Degrees: numbers are degrees, texts sexagesimal (hours for RA)."""
    for key in keys:
        value = value_of(header, key)
        if value is None:
            continue
        try:
            return float(value)
        except ValueError:
            return sexagesimal_deg(str(value), key, hours=hours)
    return None


def site_of(header: Mapping[str, Any]) -> Site | None:
    """The site from the header; None where it has none (or an impossible one)."""
    for lat, lon, height in _sites(header):
        if lat == lon == 0.0:  # what programs write that were told nothing
            continue
        with suppress(InputError):
            return Site(
                name="",
                latitude_deg=round(lat, 4),
                longitude_deg=round(lon, 4),
                height_m=0.0 if height != height else round(height),
            )
    return None


def _sites(header: Mapping[str, Any]) -> Iterator[tuple[float, float, float]]:
    """Latitude, longitude and height by each way to say them."""
    for keys in _PLACES:
        with suppress(InputError):
            lat, lon = (_angle(header, (key,), hours=False) for key in keys[:2])
            if lat is not None and lon is not None:
                yield lat, lon, number_of(header, keys[2])
    place_m = [number_of(header, f"OBSGEO-{axis}") for axis in "XYZ"]
    if all(map(isfinite, place_m)) and hypot(*place_m) > _LEAST_RADIUS_M:
        lat_rad, lon_rad, height_km = strip.geodetic([0.001 * one for one in place_m])
        yield degrees(lat_rad), degrees(lon_rad), 1000.0 * float(height_km)


def rig_from(header: Mapping[str, Any], scale_arcsec_px: float) -> Rig:
    """A rig made of what the header says; ``scale_arcsec_px`` nan if not solved.

    InputError where neither a solution nor focal length and pixel give a scale.
    """
    pixel = number_of(header, "XPIXSZ", "PIXSIZE1", "PIXSCALE_UM")
    focal = number_of(header, "FOCALLEN", "FOCAL")
    if isfinite(scale_arcsec_px):
        pixel = pixel if pixel > 0.0 else _PIXEL_UM
        # three digits, so that files solved one by one share a rig
        focal = float(f"{206.264806 * pixel / scale_arcsec_px:.3g}")
    if not (pixel > 0.0 and focal > 0.0):
        raise InputError(
            "no scale: no plate solution, no XPIXSZ and FOCALLEN; name the rig by --rig"
        )
    width, height = size_of(header)
    return Rig(
        name=HEADERS_RIG,
        focal_length_mm=focal,
        pixel_um=pixel,
        width_px=width,
        height_px=height,
        aperture_mm=number_of(header, "APTDIA", "APERTURE"),
        gains=_gains(header),
    )


def _gains(header: Mapping[str, Any]) -> tuple[Gain, ...]:
    """The gain in the header, where enough of it is told."""
    per_adu = number_of(header, "EGAIN")
    if not per_adu > 0.0:
        return ()
    noise = number_of(header, "RDNOISE", "READNOIS")
    return (
        Gain(
            name=text_of(header, "GAIN"),
            electrons_per_adu=per_adu,
            read_noise_e=noise if noise >= 0.0 else 3.0,
            full_well_e=65535.0 * per_adu,
            bit_depth=16,
        ),
    )


def size_of(header: Mapping[str, Any]) -> tuple[int, int]:
    """Width and height in pixels; InputError where it is no image."""
    width, height = (header.get(key) for key in ("NAXIS1", "NAXIS2"))
    if not isinstance(width, int) or not isinstance(height, int):
        raise InputError("holds no image")
    if not (0 < width <= 200_000 and 0 < height <= 200_000):
        raise InputError(f"an image of {width} × {height} px is impossible")
    return width, height


def binning_of(header: Mapping[str, Any]) -> int:
    """Pixels joined along an axis; 1 unless told."""
    value = number_of(header, "XBINNING", "BINNING", "CCDXBIN")
    return int(value) if 1.0 <= value <= 16.0 else 1
