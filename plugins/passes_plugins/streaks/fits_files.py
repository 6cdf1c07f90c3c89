"""Headers out of FITS files, through astropy (extra ``[fits]``)."""

from __future__ import annotations

import gzip
import os
import re
import warnings
import zlib
from contextlib import suppress
from dataclasses import dataclass
from math import prod
from pathlib import Path
from typing import Any

from passes.errors import InputError, PassesError

#: FITS files are written in blocks of so many bytes.
_BLOCK = 2880
#: The standard's own limit (FITS 4.0, section 4.4.1.1).
_MOST_AXES = 999
#: No header is longer than so many blocks, no file has more units before its image.
_MOST_BLOCKS, _MOST_UNITS = 1024, 64
#: No whole number of a header that is used is larger.
_LARGEST = 2**40
_GZIP = b"\x1f\x8b"
#: So much is unpacked to come to an image, at most.
_MOST_BYTES = 2**28


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

    def words(self) -> dict[str, Any]:
        """Keywords and what they hold, the first of each; cards nobody can read aside.

        A dictionary, since astropy looks each keyword up anew, and a thousand files
        are asked sixty times each.
        """
        from astropy.io.fits import VerifyError

        found: dict[str, Any] = {}
        for card in self.header.cards:
            with suppress(VerifyError, ValueError):
                found.setdefault(card.keyword, card.value)
        return found


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
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            header, short = _first_header(path)
            if short:
                warnings.warn("truncated", stacklevel=1)
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


def _first_header(path: str) -> tuple[Any, bool]:
    """The header of the first image, and whether the file ends before its data do.

    Read unit by unit here: astropy would build each unit, and believe what its header
    says of its size.
    """
    with open(path, "rb") as file:
        packed = file.read(len(_GZIP)) == _GZIP
        file.seek(0)
        stream: Any = gzip.GzipFile(fileobj=file) if packed else file
        primary: Any = None
        for number in range(_MOST_UNITS):
            header = _next_header(stream, number)
            if header is None:
                break
            primary = primary or header
            size = _data_bytes(header)
            image = _as_image(header)
            if image is not None:
                there = os.fstat(file.fileno()).st_size
                short = not packed and there < stream.tell() + size
                return _with_primary(image, primary), short
            _pass_over(stream, -(-size // _BLOCK) * _BLOCK, packed)
    raise ValueError("holds no image")


#: Bytes that no header may hold (the standard allows ASCII 32 to 126) as others, so
#: that an accent in one card does not cost the file.
_PRINTABLE = bytes(
    code if 32 <= code < 127 else ord(" ") if code < 128 else ord("?")
    for code in range(256)
)
#: What belongs to a unit alone: its shape, its remarks, its plate solution.
_OWN = re.compile(
    r"(SIMPLE|XTENSION|BITPIX|NAXIS\d*|EXTEND|[PG]COUNT|BZERO|BSCALE|CHECKSUM|DATASUM|"
    r"COMMENT|HISTORY|EXTNAME|C(TYPE|RVAL|RPIX|DELT|UNIT|ROTA)\d|(CD|PC|PV)\d_\d+|"
    r"[AB]P?_.*|LONPOLE|LATPOLE|WCSAXES|RADESYS|EQUINOX|)\Z"
)


def _with_primary(image: Any, primary: Any) -> Any:
    """An image's header with what only the file's first header tells (times, site)."""
    if image is primary:
        return image
    whole = image.copy()
    for card in primary.cards:
        if card.keyword not in whole and not _OWN.match(card.keyword):
            whole.append(card, end=True)
    return whole


def _next_header(stream: Any, number: int) -> Any:
    """The header that begins here; None at the end of the file."""
    from astropy.io import fits

    text = bytearray()
    for _ in range(_MOST_BLOCKS):
        block = stream.read(_BLOCK)
        text += block
        if not number and not text.startswith(b"SIMPLE  ="):
            raise ValueError("is no FITS file")
        if len(block) < _BLOCK or _END.search(block):
            break
    if number and not text.startswith(b"XTENSION="):
        return None  # the end, or what was put behind it
    if not _END.search(text):
        raise EOFError
    return fits.Header.fromstring(text.translate(_PRINTABLE).decode("ascii"))


def _pass_over(stream: Any, size: int, packed: bool) -> None:
    """Go on behind a unit's data."""
    if packed and size > _MOST_BYTES:
        raise ValueError("its image stands too far behind in a packed file")
    stream.seek(size, os.SEEK_CUR)


def _as_image(header: Any) -> Any:
    """The header, if it describes an image of two axes or more; else None.

    One whose image is kept in tiles speaks of a table; it gets the image's own axes.
    """
    tiles = header.get("ZIMAGE") is True
    if header.get("XTENSION") == "BINTABLE" and not tiles:
        return None
    if tiles:
        axes = _axes(header, "ZNAXIS")
        header = header.copy()
        header["NAXIS"] = len(axes)
        for axis, size in enumerate(axes, 1):
            header[f"NAXIS{axis}"] = size
    return header if _whole(header, "NAXIS") >= 2 else None


#: The card that ends a header.
_END = re.compile(rb"(?:^|(?<= ))END {77}")


def _data_bytes(header: Any) -> int:
    """Bytes of a unit's data (FITS 4.0, section 7.1.1), without the filling."""
    axes = _axes(header, "NAXIS")
    size = prod(axes) if axes else 0
    groups = _whole(header, "GCOUNT", 1)
    behind = _whole(header, "PCOUNT")
    return abs(_whole(header, "BITPIX")) // 8 * groups * (behind + size)


def _axes(header: Any, name: str) -> list[int]:
    """The lengths of all axes."""
    count = _whole(header, name)
    if count > _MOST_AXES:
        raise ValueError(f"{name} {count} is impossible (up to {_MOST_AXES})")
    return [_whole(header, f"{name}{axis}") for axis in range(1, count + 1)]


def _whole(header: Any, key: str, default: int = 0) -> int:
    value = header.get(key, default)
    if not isinstance(value, int) or not 0 <= abs(value) <= _LARGEST:
        raise ValueError(f"{key} is no sensible whole number")
    if value < 0 and key != "BITPIX":
        raise ValueError(f"{key} {value} is impossible (below zero)")
    return int(value)


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
