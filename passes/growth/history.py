"""Errors re-scaled by what successive sets of a class or of one object were off by."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.growth.law import Floats

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Pairs of a class from which its own scale is measured.
LEAST_PAIRS = 30
#: However many the pairs, they come from the same few weeks of air and Sun, so that
#: the class moves at most this part of the way (in logarithms) to its own scale.
MOST_WEIGHT = 0.7
#: Sets of one object from which its own history counts.
LEAST_SETS = 3
#: To smaller errors only this part: a quiet week says little about the next, and the
#: truth is another element set.
MOST_WEIGHT_DOWN = 0.35
#: Stretches between sets that weigh as much as the class.  With 8 the history of three
#: sets forecast the error of a fourth better than the class alone in eight classes of
#: nine, by 1 to 7 % of the quantiles' loss; with 3 worse in five (our comparison of
#: September 2025).
CLASS_STRETCHES = 8.0
#: A ratio this small says no smaller: rounding of element sets, not their quality.
LEAST_RATIO = 0.03
#: How far an object's own history may move it from its class, in logarithms.
LEAST_SHIFT, MOST_SHIFT = -1.5, 3.0
#: A change of axis beyond this and beyond what drag does in the same time is no air:
#: of payloads in low orbit that keep within it, 95 % of the errors are under 2.5 sigma;
#: of the 2 to 7 % that do not, half are over 8 (our comparison).
STEERED_KM = 0.008
#: Longest revolution for that, days: further out Sun and Moon change the axis more.
_SLOWEST_REV_DAY = 11.0


def class_scales(
    code: Ints, off_s: Floats, sigma_s: Floats, bound_s: Floats, classes: int
) -> tuple[Floats, Floats, Ints]:
    """What sigma and bound of each class are to be multiplied by, ``(classes,)``.

    ``code`` ``(k,)`` says which class a pair belongs to, ``off_s`` by how much it was
    off, ``sigma_s`` and ``bound_s`` what was promised.  1 for a class of under
    :data:`LEAST_PAIRS` pairs.  Also the number of pairs of each class.
    """
    sigma, bound = np.ones(classes), np.ones(classes)
    pairs = np.bincount(code, minlength=classes)
    for one in np.flatnonzero(pairs >= LEAST_PAIRS).tolist():
        some = code == one
        weight = min(MOST_WEIGHT, pairs[one] / (pairs[one] + LEAST_PAIRS))
        for scale, promised, share in ((sigma, sigma_s, 0.683), (bound, bound_s, 0.95)):
            seen = np.quantile(off_s[some] / promised[some], share)
            down = weight if seen > 1.0 else min(weight, MOST_WEIGHT_DOWN)
            scale[one] = max(float(seen), LEAST_RATIO) ** down
    return sigma, np.maximum(bound, sigma / 1.4), pairs


def log_ratio(off_s: ArrayLike, sigma_s: ArrayLike) -> Floats:
    """Logarithm of how many sigmas a pair was off, ``(k,)``, bounded below."""
    ratio = np.asarray(off_s, dtype=np.float64) / np.asarray(sigma_s)
    return np.asarray(np.log(np.maximum(ratio, LEAST_RATIO)))


def own_scales(
    owner: Ints, off_s: Floats, sigma_s: Floats, usual: Floats, sets: Ints
) -> Floats:
    """What each object's sigma and bound are to be multiplied by, ``(n,)``.

    ``owner`` ``(k,)`` is the object of each pair, ``usual`` ``(n,)`` the mean of
    :func:`log_ratio` in its class, ``sets`` ``(n,)`` how many sets it has.  The mean
    of its own ratios is shrunk towards its class by the number of stretches between
    its sets; 1 where there are under :data:`LEAST_SETS` sets.
    """
    pairs = np.bincount(owner, minlength=sets.size)
    total = np.bincount(owner, log_ratio(off_s, sigma_s), minlength=sets.size)
    shift = total / np.maximum(pairs, 1) - usual
    stretches = np.maximum(sets - 1, 0)
    weight = stretches / (stretches + CLASS_STRETCHES)
    known = (sets >= LEAST_SETS) & (pairs > 0)
    shift = np.where(known, weight * shift, 0.0)
    return np.exp(np.clip(shift, LEAST_SHIFT, MOST_SHIFT))


def steered(
    motion_rev_day: Floats,
    later_motion_rev_day: Floats,
    drag_s_day2: Floats,
    later_drag_s_day2: Floats,
    age_days: Floats,
) -> Bools:
    """Whether the orbit changed between two sets as no air does it, ``(k,)``.

    Mean motions and drags (:func:`passes.growth.drag_s_day2`) of the older and the
    newer set.  Only orbits in and near low orbit are judged, the others are False.
    """
    axis_km = 42241.1 * motion_rev_day ** (-2.0 / 3.0)
    per_motion_km = 2.0 / 3.0 * axis_km / motion_rev_day
    drag = (drag_s_day2 + later_drag_s_day2) / 2.0
    by_air = 2.0 * drag * motion_rev_day / 86400.0 * age_days
    rest_km = per_motion_km * (later_motion_rev_day - motion_rev_day - by_air)
    allowed_km = np.maximum(STEERED_KM, per_motion_km * np.abs(by_air))
    low = motion_rev_day >= _SLOWEST_REV_DAY
    return np.asarray(low & (np.abs(rest_km) > allowed_km))
