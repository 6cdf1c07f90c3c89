"""Headers and plate solutions out of FITS files, through astropy (extra ``[fits]``)."""

from __future__ import annotations

import gzip
import re
import warnings
import zlib
from contextlib import suppress
from dataclasses import dataclass
from math import degrees
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes import field as plane
from passes.constants import ARCSEC_PER_RAD
from passes.errors import InputError, PassesError
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.headers import size_of
from passes_plugins.streaks.solution import wcs_of

Floats = NDArray[np.float64]


#: FITS files are written in blocks of so many bytes.
_BLOCK = 2880
#: A header longer than this is left to astropy.
_MOST_BLOCKS = 64


@dataclass(frozen=True, slots=True, eq=False)
class Opened:
    """One file's image header (an astropy one), and what reading it complained of."""

    header: Any
    remarks: tuple[str, ...]

    @property
    def comments(self) -> dict[str, str]:
        """What stands beside the date."""
        if "DATE-OBS" not in self.header:
            return {}
        return {"DATE-OBS": str(self.header.comments["DATE-OBS"])}


def need_astropy() -> None:
    """PassesError with the remedy where astropy is not installed."""
    try:
        from astropy.io import fits as _  # noqa: F401
    except ImportError:
        raise PassesError(
            "reading FITS files needs astropy: install passes with the extra [fits]"
        ) from None


def open_header(path: str) -> Opened:
    """The header of the first image in a file: plain, gzip or tile-compressed.

    InputError says in one line why a file cannot be used.
    """
    from astropy.io import fits

    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            header = _first_header(path)
            if header is None:
                with fits.open(path, memmap=False, lazy_load_hdus=True) as units:
                    header = _image_header(units)
        except FileNotFoundError:
            raise InputError("there is no such file") from None
        except IsADirectoryError:
            raise InputError("is a folder") from None
        except failures() as error:
            raise InputError(_why(path, error)) from None
        remarks = [_short(str(one.message)) for one in told]
    return Opened(header, tuple(dict.fromkeys(remarks)))


def failures() -> tuple[type[Exception], ...]:
    """What astropy and damaged files may raise."""
    from astropy.io.fits import VerifyError

    files = (OSError, EOFError, zlib.error)
    return (*files, ValueError, IndexError, TypeError, KeyError, VerifyError)


def why(path: str, error: Exception) -> str:
    """In a line, why a file cannot be used."""
    return str(error) if isinstance(error, InputError) else _why(path, error)


def _first_header(path: str) -> Any:
    """The first header where it describes a whole image; None leaves it to astropy."""
    from astropy.io import fits

    packed = path.casefold().endswith(".gz")
    with gzip.open(path) if packed else open(path, "rb") as file:
        text = b""
        for _ in range(_MOST_BLOCKS):
            block = file.read(_BLOCK)
            text += block
            if len(block) < _BLOCK or _END.search(block):
                break
        if not text.startswith(b"SIMPLE  =") or not _END.search(text):
            return None
        header = fits.Header.fromstring(text.decode("ascii", "replace"))
        if header.get("NAXIS", 0) < 2:
            return None
        if not packed and Path(path).stat().st_size < len(text) + _data_bytes(header):
            warnings.warn("truncated", stacklevel=1)
    return header


#: The card that ends a header.
_END = re.compile(rb"(?:^|(?<= ))END {77}")


def _data_bytes(header: Any) -> int:
    """Bytes of an image."""
    size = abs(int(header.get("BITPIX", 8))) // 8
    for axis in range(1, int(header["NAXIS"]) + 1):
        size *= int(header.get(f"NAXIS{axis}", 0))
    return size


def _image_header(units: Any) -> Any:
    """The first header that describes an image of two axes or more."""
    for number in range(64):
        try:
            header = units[number].header
        except IndexError:
            break
        if header.get("NAXIS", 0) >= 2 and header.get("XTENSION") != "BINTABLE":
            return header
    raise ValueError("holds no image")


def _why(path: str, error: Exception) -> str:
    text = str(error).splitlines()[0] if str(error) else type(error).__name__
    if isinstance(error, PermissionError):
        return "may not be read"
    with suppress(OSError):
        if Path(path).stat().st_size == 0:
            return "the file is empty"
    if isinstance(error, EOFError) or "END card" in text or "corrupt" in text:
        return "the file ends too early"
    if "SIMPLE" in text or "not a valid FITS" in text:
        return "is no FITS file"
    return _short(text)


def _short(text: str) -> str:
    """The first line of what astropy said, in our words where we know them."""
    if "truncated" in text:
        return "the file is shorter than its header says"
    line = text.splitlines()[0] if text else ""
    return line if len(line) <= 120 else f"{line[:119]}…"


def solved_frame(opened: Opened) -> Frame | None:
    """The frame of a plate solution, distortion in its pixels; None without one.

    InputError where a solution is there but makes no sense.
    """
    header = opened.header
    ctype = str(header.get("CTYPE1", "")) + str(header.get("CTYPE2", ""))
    if "RA--" not in ctype or "DEC-" not in ctype:
        return None
    try:
        wcs = wcs_of(header)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise InputError(f"its plate solution fails: {_short(str(error))}") from None
    return _frame(wcs, size_of(header))


def _frame(wcs: Any, size_px: tuple[int, int]) -> Frame:
    width, height = size_px
    x, y = (width + 1) / 2.0, (height + 1) / 2.0
    ra, dec = wcs.all_pix2world([x, x + 1.0, x], [y, y, y + 1.0], 1)
    if not np.isfinite([*ra, *dec]).all():
        raise InputError("its plate solution puts the middle nowhere")
    lon, lat = np.radians(ra), np.radians(dec)
    east, north = plane.standard(lon[1:], lat[1:], lon[0], lat[0])
    area = abs(east[0] * north[1] - east[1] * north[0])
    if not area > 0.0:
        raise InputError("its plate solution has no scale")

    def solved(ra_deg: Floats, dec_deg: Floats) -> tuple[Floats, Floats]:
        places = np.broadcast_arrays(ra_deg, dec_deg)
        shape = places[0].shape
        flat = [np.ravel(one) for one in places]
        px = wcs.all_world2pix(*flat, 1, quiet=True)
        return np.reshape(px[0], shape), np.reshape(px[1], shape)

    return Frame(
        ra_deg=float(ra[0]) % 360.0,
        dec_deg=float(dec[0]),
        position_angle_deg=degrees(float(np.arctan2(east[1], north[1]))) % 360.0,
        width_px=width,
        height_px=height,
        scale_arcsec_px=float(np.sqrt(area)) * ARCSEC_PER_RAD,
        mirrored=bool(east[0] * north[1] - east[1] * north[0] > 0.0),
        solved=solved,
    )
