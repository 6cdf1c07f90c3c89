"""A site's horizon from a CSV of azimuth,altitude, and what makes one impossible."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from math import isfinite

from passes.errors import InputError

Corners = tuple[tuple[float, float], ...]

#: Corners further apart than this leave part of the circle to guesswork, degrees.
WIDEST_GAP_DEG = 180.0
#: No horizon needs more corners: two a degree.
_MOST = 720
_HEADS = {"azimuth", "az", "azimuth_deg"}


def read_horizon(lines: Iterable[str], where: str) -> Corners:
    """Corners (azimuth, altitude) in degrees from CSV lines; ``#`` begins a comment.

    A heading line is passed over.  Raises InputError naming ``where:line``.
    """
    corners: list[tuple[float, float]] = []
    for number, row in _rows(lines, where):
        cells = [cell.strip() for cell in row]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if not corners and cells[0].lower() in _HEADS:
            continue
        corners.append(_corner(cells, f"{where}:{number}"))
        if len(corners) > _MOST:
            raise InputError(f"{where}:{number}: over {_MOST} corners; thin them out")
    check_horizon(corners, where)
    return tuple(corners)


def _rows(lines: Iterable[str], where: str) -> Iterator[tuple[int, list[str]]]:
    rows = csv.reader(lines)
    try:
        yield from enumerate(rows, 1)
    except csv.Error as error:
        raise InputError(f"{where}:{rows.line_num}: {error}") from error


def _corner(cells: Sequence[str], where: str) -> tuple[float, float]:
    try:
        azimuth, altitude = (float(cell) for cell in cells)
        if not (isfinite(azimuth) and isfinite(altitude)):
            raise ValueError
    except ValueError as error:
        said = ",".join(cells)[:40]
        raise InputError(f"{where}: want AZIMUTH,ALTITUDE, not {said!r}") from error
    return azimuth, altitude


def check_horizon(corners: Sequence[tuple[float, float]], where: str) -> None:
    """Refuse corners that are impossible, out of order or leave out much of the circle.

    No corner at all is a clear horizon.  Raises InputError.
    """
    last = -1.0
    for i, (azimuth, altitude) in enumerate(corners, 1):
        here = f"{where}: corner {i}"
        if not 0.0 <= azimuth <= 360.0:
            raise InputError(f"{here}: azimuth {azimuth:g}° is impossible (0 to 360)")
        if not -10.0 <= altitude < 90.0:
            raise InputError(
                f"{here}: altitude {altitude:g}° is impossible (-10 to 90)"
            )
        if azimuth <= last:
            raise InputError(
                f"{here}: azimuth {azimuth:g}° is out of order (after {last:g}°)"
            )
        last = azimuth
    if corners:
        _check_circle([azimuth for azimuth, _ in corners], where)


def _check_circle(azimuths: Sequence[float], where: str) -> None:
    ends = [*azimuths[1:], azimuths[0] + 360.0]
    gap, start = max((b - a, a) for a, b in zip(azimuths, ends, strict=True))
    if gap > WIDEST_GAP_DEG:
        raise InputError(
            f"{where}: the horizon does not cover the circle: nothing for {gap:g}° "
            f"after azimuth {start:g}°"
        )
