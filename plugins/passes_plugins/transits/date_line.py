"""Lines and rings cut where they pass longitude 180° (RFC 7946, section 3.1.9)."""

from __future__ import annotations

from itertools import pairwise

Point = list[float]


def _continued(points: list[Point]) -> list[Point]:
    """The same points with longitudes that never jump."""
    out: list[Point] = []
    for x, y in points:
        if out:
            x += 360.0 * round((out[-1][0] - x) / 360.0)
        out.append([x, y])
    return out


def _crossing(a: Point, b: Point, edge: float) -> Point:
    share = (edge - a[0]) / (b[0] - a[0])
    return [edge, a[1] + share * (b[1] - a[1])]


def cut_line(points: list[Point]) -> list[list[Point]]:
    """A line in pieces, each within −180° to 180°."""
    line = _continued(points)
    pieces: list[list[Point]] = [[]]
    sheet = _sheet(line[0][0]) if line else 0
    for i, point in enumerate(line):
        now = _sheet(point[0])
        if i and now != sheet:
            edge = 180.0 + 360.0 * min(now, sheet)
            cut = _crossing(line[i - 1], point, edge)
            pieces[-1].append([edge - 360.0 * sheet, cut[1]])
            pieces.append([[edge - 360.0 * now, cut[1]]])
            sheet = now
        pieces[-1].append([point[0] - 360.0 * now, point[1]])
    return [piece for piece in pieces if len(piece) > 1]


def _sheet(longitude: float) -> int:
    """How many turns a longitude is away from −180° to 180°."""
    return int((longitude + 180.0) // 360.0) if longitude != 180.0 else 0


def cut_ring(points: list[Point]) -> list[list[Point]]:
    """A ring in rings, counter-clockwise, each within −180° to 180°."""
    ring = _continued(points)
    rings = []
    sheets = {_sheet(x) for x, _ in ring}
    for sheet in sorted(sheets):
        low = -180.0 + 360.0 * sheet
        part = _clipped(_clipped(ring, low, 1.0), low + 360.0, -1.0)
        if len(part) > 3 and abs(_area(part)) > 0.0:
            moved = [[x - 360.0 * sheet, y] for x, y in part]
            rings.append(moved if _area(moved) > 0.0 else moved[::-1])
    return rings


def _clipped(ring: list[Point], edge: float, side: float) -> list[Point]:
    """The part of a closed ring on one side of a meridian (Sutherland–Hodgman)."""
    out: list[Point] = []
    for a, b in pairwise(ring):
        a_in, b_in = side * (a[0] - edge) >= 0.0, side * (b[0] - edge) >= 0.0
        if a_in:
            out.append(a)
        if a_in != b_in:
            out.append(_crossing(a, b, edge))
    return [*out, out[0]] if out else []


def _area(ring: list[Point]) -> float:
    """Twice the signed area; positive is counter-clockwise."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))
