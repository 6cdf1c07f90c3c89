"""How an object's path and time fit a streak."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import hypot, radians

import numpy as np
from numpy.typing import NDArray

from passes import field as plane
from passes import trail
from passes.model import Crossing, Site
from passes_plugins.streaks.belonging import GROUND_KM_S
from passes_plugins.streaks.candidates import Candidate, Streak, Timing

Floats = NDArray[np.float64]

#: A path's own bend and turn against its parabola, radians.
_MODEL_RAD = 3e-4
#: A direction's own error, and how far a path that lies aside by an angle is turned.
_TURN_RAD, _TURNS = 2e-3, 0.5
#: 95 % of normal errors are smaller than so many sigma.
_TWO = 1.96
#: How often an end inside the frame is not the shutter's (common practice, no source).
_PARTLY = 0.02


def fits(
    streak: Streak, crossings: Sequence[Crossing], site: Site
) -> Iterator[Candidate]:
    """How each crossing's path and time fit a streak."""
    ra0, dec0, _ = streak.middle()
    centre = radians(ra0), radians(dec0)
    moments = [(c.entry, c.closest, c.exit) for c in crossings]
    time_s = np.array(
        [[(p.time - streak.start).total_seconds() for p in row] for row in moments]
    )
    ra = np.radians([[p.ra_deg for p in row] for row in moments])
    dec = np.radians([[p.dec_deg for p in row] for row in moments])
    middle, half, east, north = plane.parabolas(
        time_s, *plane.standard(ra, dec, *centre)
    )
    seen_ra, seen_dec = np.radians(streak.ends).T
    ends = np.stack(plane.standard(seen_ra, seen_dec, *centre), axis=-1)
    for i, crossing in enumerate(crossings):
        near = [_nearest(east[i], north[i], end) for end in ends]
        times = [float(middle[i] + half[i] * u) for u, _ in near]
        offsets = [offset for _, offset in near]
        yield _candidate(streak, crossing, times, offsets, site)


def _nearest(east: Floats, north: Floats, end: Floats) -> tuple[float, float]:
    """Scaled time at which a path is nearest to a place, and how far right of it."""
    u = np.linspace(-1.0, 1.0, 401)
    away = np.hypot(plane.at(east, u) - end[0], plane.at(north, u) - end[1])
    best = float(u[away.argmin()])
    for _ in range(4):  # Newton along the tangent; beyond the ends the path runs on
        run, gap = _beside(east, north, end, best)
        best += float(gap @ run / (run @ run))
    run, gap = _beside(east, north, end, best)
    across = float((run[0] * gap[1] - run[1] * gap[0]) / np.hypot(*run))
    return best, across


def _beside(
    east: Floats, north: Floats, end: Floats, u: float
) -> tuple[Floats, Floats]:
    """How a path runs at a scaled time, and the gap from there to a place."""
    run = np.array([path[1] + 2.0 * u * path[2] for path in (east, north)])
    return run, end - np.array([plane.at(path, u) for path in (east, north)])


def _candidate(
    streak: Streak,
    crossing: Crossing,
    times: Sequence[float],
    offsets: Sequence[float],
    site: Site,
) -> Candidate:
    first, last = (0, 1) if times[0] <= times[1] else (1, 0)
    length_rad = max(radians(streak.middle()[2]), 1e-9)
    end_rad = radians(streak.sigma_deg)
    turn = float(np.arctan((offsets[last] - offsets[first]) / length_rad))
    sigma, bound = _across(streak, crossing, site)
    turn_sigma = hypot(1.414 * end_rad / length_rad, _TURN_RAD, _TURNS * sigma)
    run_s = times[last] - times[first]
    cut = streak.cut[first], streak.cut[last]
    return Candidate(
        crossing=crossing,
        offset_deg=float(np.degrees(0.5 * (offsets[0] + offsets[1]))),
        offset_sigma_deg=float(np.degrees(sigma)),
        offset_bound_deg=float(np.degrees(bound)),
        turn_deg=float(np.degrees(turn)),
        turn_sigma_deg=float(np.degrees(turn_sigma)),
        length_ratio=run_s / streak.exposure_s,
        timing=_timing(streak, crossing, times[first], run_s, cut),
    )


def _across(streak: Streak, crossing: Crossing, site: Site) -> tuple[float, float]:
    """Sigma and bound of a path to either side, radians.

    From the error across the track, from how far the site turns with the Earth while
    an object is late, and from the streak's own ends.
    """
    ground_km_s = GROUND_KM_S * float(np.cos(np.radians(site.latitude_deg)))
    cross_km = float(np.nan_to_num(crossing.cross_track_sigma_km))
    late_km = float(np.nan_to_num(crossing.timing_sigma_s)) * ground_km_s
    own = hypot(radians(streak.sigma_deg), _MODEL_RAD / 10.0)
    sigma = hypot(cross_km / crossing.range_km, late_km / crossing.range_km, own)
    far_km = crossing.timing_bound_s * ground_km_s
    bound = hypot(_TWO * cross_km / crossing.range_km, far_km / crossing.range_km)
    return sigma, hypot(bound, _TWO * own)


# --- the time it came, and how long it ran -------------------------------------------


def _timing(
    streak: Streak,
    crossing: Crossing,
    begins_s: float,
    run_s: float,
    cut: tuple[bool, bool],
) -> Timing:
    """The likelier reading: each end inside the frame the shutter's, or neither."""
    rate = max(radians(crossing.angular_rate_deg_s), 1e-9)
    run_sigma = hypot(1.414 * radians(streak.sigma_deg) / rate, 0.01 * run_s, 0.2)
    readings = []
    for partly in (False,) if all(cut) else (False, True):
        ends = (True, True) if partly else cut
        late, span, lengths = _late(streak, begins_s, run_s, ends, run_sigma)
        own = hypot(streak.clock_sigma_s, run_sigma if late else 0.0)
        readings.append(
            Timing(
                late_s=late,
                span_s=span,
                length_sigmas=lengths,
                sigma_s=hypot(float(np.nan_to_num(crossing.timing_sigma_s)), own),
                bound_s=hypot(crossing.timing_bound_s, _TWO * own),
                partly=partly,
            )
        )
    return max(readings, key=lambda one: time_odds(streak, one))


def _late(
    streak: Streak,
    begins_s: float,
    run_s: float,
    cut: tuple[bool, bool],
    run_sigma: float,
) -> tuple[float, tuple[float, float], float]:
    """How late the object came, within which range, and how wrong its run's length is.

    An end that is not cut is where the shutter opened (or closed); one at the frame's
    edge only says that the shutter was open.
    """
    opened, closed = -begins_s, streak.exposure_s - begins_s - run_s
    excess = (run_s - streak.exposure_s) / run_sigma
    if not any(cut):
        late = 0.5 * (opened + closed)
        return late, (late, late), abs(excess)
    lengths = max(excess, 0.0)
    if cut == (False, True):
        return opened, (opened, opened), lengths
    if cut == (True, False):
        return closed, (closed, closed), lengths
    low, high = min(opened, closed), max(opened, closed)
    late = min(max(0.0, low), high)
    return late, (low, high), lengths


def time_odds(streak: Streak, one: Timing) -> float:
    """How much likelier a time and a length are from an object than from any."""
    low, high = one.span_s
    if low == high:
        dense = trail.density(one.late_s, one.sigma_s, one.bound_s)
        odds = float(dense) * streak.exposure_s
    else:
        ends = trail.deviate([low, high], one.sigma_s, one.bound_s)
        odds = float(trail.within(*ends))
    likely = _PARTLY if one.partly else 1.0
    return likely * odds * float(np.exp(-0.5 * one.length_sigmas**2))
