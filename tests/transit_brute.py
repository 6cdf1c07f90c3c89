"""Transits found by looking everywhere, with skyfield alone.

Steps of 20 s tell where object and body are up, steps of a second where they are near
each other; there a golden section finds the closest approach and halving the limb.
Nothing of the project's own is used.
"""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from brute_crossings import Sky, angle_deg
from one_satellite import moments, planets

COARSE_S, FINE_S, DAY_S = 20.0, 1.0, 86_400.0
#: Near enough at a step of a second to be looked at closely, degrees.
NEAR_DEG = 1.7
_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0


@dataclass
class Passing:
    """A closest approach: seconds, degrees; entry and exit are nan for a miss."""

    time_s: float
    closest_deg: float
    radius_deg: float
    begin_s: float
    end_s: float
    altitude_deg: float


def passings(satellite, site, body, radius_km, start, days, within_deg):
    """Every closest approach within ``within_deg`` of a body's centre."""
    found = []
    for day in range(int(np.ceil(days))):
        begin = start + timedelta(days=day)
        span_s = min(days - day, 1.0) * DAY_S
        sky = Sky(site, begin, size=radius_km, body=body)
        for one in _of_day(sky, satellite, span_s, within_deg):
            one.time_s += day * DAY_S
            one.begin_s += day * DAY_S
            one.end_s += day * DAY_S
            found.append(one)
    return found


def _of_day(sky, satellite, span_s, within_deg):
    time_s = np.arange(0.0, span_s, COARSE_S)
    t = moments(sky.start, time_s)
    up = (satellite - sky.place).at(t).altaz()[0].degrees > -1.0
    fine = (time_s[up][:, None] + np.arange(0.0, COARSE_S, FINE_S)).reshape(-1)
    if not fine.size:
        return
    t = moments(sky.start, fine)
    body = sky.here.at(t).observe(planets()[sky.body]).position.km
    away = angle_deg((satellite - sky.place).at(t).position.km, body)
    near = np.flatnonzero(away < within_deg + NEAR_DEG)
    for run in np.split(near, np.flatnonzero(np.diff(near) > 1) + 1):
        if not run.size:
            continue
        at = run[away[run].argmin()]
        one = _closest(sky, satellite, fine[at])
        if one.closest_deg <= within_deg and one.altitude_deg > 0.0:
            yield one


def _apart(sky, satellite, time_s):
    seen, t = sky.seen(satellite, time_s)
    toward, radius = sky.aim(t)
    return float(angle_deg(seen, toward)[0]), float(radius[0])


def _closest(sky, satellite, near_s):
    low, high = near_s - 2.0 * FINE_S, near_s + 2.0 * FINE_S
    while high - low > 1e-5:  # the distance changes by the square of this
        a, b = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        if _apart(sky, satellite, a)[0] < _apart(sky, satellite, b)[0]:
            high = b
        else:
            low = a
    best = 0.5 * (low + high)
    closest, radius = _apart(sky, satellite, best)
    begin, end = np.nan, np.nan
    if closest < radius:
        begin = _limb(sky, satellite, best - 10.0, best)
        end = _limb(sky, satellite, best + 10.0, best)
    altitude = float(sky.altitude_deg(satellite, best)[0])
    return Passing(best, closest, radius, begin, end, altitude)


def _limb(sky, satellite, outside_s, inside_s):
    while abs(outside_s - inside_s) > 1e-6:
        middle = 0.5 * (outside_s + inside_s)
        apart, radius = _apart(sky, satellite, middle)
        if apart < radius:
            inside_s = middle
        else:
            outside_s = middle
    return 0.5 * (outside_s + inside_s)
