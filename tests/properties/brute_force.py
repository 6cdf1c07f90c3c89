"""Passes the slow way: SGP4 at every second, and no cleverness to be wrong about."""

from datetime import timedelta

import numpy as np

from passes import sky
from passes.finder import PassTable, search_passes
from passes.model import Flags, Site
from passes.orbits import Propagator
from passes.vectors import rotate_z

#: Samples this close to the limit (as a sine; metres) may fall on either side of it.
CLOSE = 1e-7


def heights(catalogue, rows, site: Site, start, time_s, limit_deg) -> np.ndarray:
    """Sine of geometric altitude less that of the limit, ``(rows, k)``; nan refused."""
    position, _, error = Propagator(catalogue, start, fast=False).many(rows, time_s)
    fixed = rotate_z(position, -sky.gmst_rad(start, time_s))
    line = fixed - sky.site_km(site)
    up = line @ sky.site_axes(site)[2]
    sine = up / np.linalg.norm(line, axis=-1)
    return np.where(error == 0, sine - np.sin(np.radians(limit_deg)), np.nan)


def second_by_second(table: PassTable, rows, step_s: float = 1.0) -> int:
    """Hold every sample of some rows against the table; returns how many were up.

    A sample above the limit must lie in a pass, one below it in none; after a failure
    there must be nothing.
    """
    span_s = (table.end - table.start).total_seconds()
    time_s = np.append(np.arange(0.0, span_s, step_s), span_s)
    up = 0
    for row in rows:
        sine = heights(
            table.catalogue,
            [row],
            table.site,
            table.start,
            time_s,
            table.min_altitude_deg,
        )[0]
        good = ~np.isnan(sine)
        down = np.maximum.accumulate(np.maximum.accumulate(good) & ~good)
        sine[down] = np.nan
        mine = table.row == row
        inside = np.zeros(time_s.size, dtype=bool)
        for begin, finish in zip(
            table.begin_s[mine], table.finish_s[mine], strict=True
        ):
            inside |= (time_s >= begin) & (time_s <= finish)
        clear = ~(np.abs(sine) < CLOSE)
        above = sine > 0.0
        assert not (above & ~inside & clear).any(), f"row {row}: missed"
        assert not (inside & ~above & clear).any(), f"row {row}: invented"
        up += int(above.sum())
    return up


def tidy(table: PassTable) -> None:
    """Hold what must be true of every table."""
    span_s = (table.end - table.start).total_seconds()
    rise, top, fall = table.rise, table.culmination, table.set
    assert (table.begin_s >= 0.0).all()
    assert (table.finish_s <= span_s).all()
    assert (table.begin_s < table.finish_s).all()
    same = np.diff(table.row) == 0
    assert (np.diff(table.row) >= 0).all()
    assert (table.begin_s[1:] > table.finish_s[:-1])[same].all()
    risen, set_, topped = (np.isfinite(p.time_s) for p in (rise, fall, top))
    failed = (table.flags & Flags.ENDS_IN_FAILURE) != 0
    np.testing.assert_array_equal(rise.time_s[risen], table.begin_s[risen])
    np.testing.assert_array_equal(fall.time_s[set_], table.finish_s[set_])
    cut = (table.flags & Flags.UP_AT_START) != 0
    np.testing.assert_array_equal(cut | (failed & ~risen), ~risen)
    cut = (table.flags & Flags.UP_AT_END) != 0
    np.testing.assert_array_equal(cut | (failed & ~set_), ~set_)
    for points, there in ((rise, risen), (fall, set_)):
        off = points.altitude_deg[there] - table.min_altitude_deg
        np.testing.assert_allclose(off, 0.0, atol=1e-6)
    inner = (top.time_s >= table.begin_s) & (top.time_s <= table.finish_s)
    assert inner[topped].all()
    assert (top.altitude_deg[topped] >= table.min_altitude_deg - 1e-7).all()
    whole = risen & set_
    assert topped[whole].all()
    of = table.further_of
    assert (table.further.altitude_deg <= top.altitude_deg[of]).all()
    assert (table.further.time_s >= table.begin_s[of]).all()
    assert (table.further.time_s <= table.finish_s[of]).all()
    for points in (rise, top, fall, table.further):
        azimuth = points.azimuth_deg[np.isfinite(points.time_s)]
        assert ((azimuth >= 0.0) & (azimuth < 360.0)).all()


def search(catalogue, site, start, hours=12.0, limit_deg=10.0, **how) -> PassTable:
    """Search a window of hours from a start, without heyoka unless asked."""
    end = start + timedelta(hours=hours)
    how = {"fast": False, **how}
    return search_passes(catalogue, site, start, end, min_altitude_deg=limit_deg, **how)


def columns(table: PassTable) -> dict[str, np.ndarray]:
    """Every number of a table, for comparison to the last bit."""
    arrays = {
        name: getattr(table, name)
        for name in ("row", "begin_s", "finish_s", "flags", "further_of")
    }
    for name in ("rise", "culmination", "set", "further"):
        points = getattr(table, name)
        for column in ("time_s", "altitude_deg", "azimuth_deg", "range_km"):
            arrays[f"{name}.{column}"] = getattr(points, column)
    return arrays


def same_bits(one: PassTable, other: PassTable) -> None:
    """Hold two tables to be the same to the last bit."""
    theirs = columns(other)
    for name, array in columns(one).items():
        np.testing.assert_array_equal(array, theirs[name], err_msg=name)
    assert one.skipped == other.skipped
