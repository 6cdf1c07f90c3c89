"""How far predictions of one object can be trusted, as records and in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from passes import growth
from passes.elements import Catalogue, ElementSet, as_catalogue
from passes.forecast.errors_in_time import growth_of
from passes.forecast.measured import class_laws
from passes.forecast.pairs import Pairs, pairs_of
from passes.forecast.supply import USABLE_DAYS
from passes.growth import history as histories
from passes.model import Growth, Note

#: The error in time, 95 % bound in seconds, up to which a prediction serves a purpose
#: (own choice): a transit's strip on the ground, some 10 km wide, has moved by half of
#: it; one minute is a short pass watched through a high-speed camera; two are the
#: pause that one gladly makes between exposures; five are what the eye will wait for.
PURPOSES = {
    "transits": 10.0,
    "high-speed imaging": 60.0,
    "guarding exposures": 120.0,
    "watching the sky": 300.0,
}
_AGES_DAYS = (1.0, 3.0, 7.0)
#: Steps in which it is looked up until when a prediction serves, days.
_STEP_DAYS = 0.01
#: So many comparisons are told one by one.
_TOLD = 4
_CLASS_WORDS = {
    "constellation": "constellation craft that steer all the time",
    "steady constellation": "constellation craft above 700 km",
    "low": "payloads flying alone in low orbits",
    "lowest": "payloads flying alone below 500 km",
    "passive low": "payloads in low orbits that never steered",
    "passive lowest": "payloads below 500 km that never steered",
    "geostationary": "craft held over their place",
    "geosynchronous": "payloads in inclined orbits of one day",
    "medium": "payloads in medium orbits",
    "eccentric": "payloads in eccentric orbits",
}


def own_growth(
    history: Catalogue | Sequence[ElementSet], by_class: Growth | None = None
) -> Growth:
    """The growth of one object's error, moved from its class to its own history.

    ``history`` holds its element sets in any order.  ``by_class`` is what is known
    without them (default: the class of the newest set).  With fewer than three sets
    that is given back; a set that differs as no air makes it always tells of steering.
    ValueError where ``history`` is empty or holds several objects.
    """
    sets = _one_object(history)
    law = growth_of(sets[-1:]).record(0) if by_class is None else by_class
    pairs = pairs_of(sets, furthest=1)
    law = replace(law, manoeuvres=law.manoeuvres or _steers(sets, pairs))
    scale = _scale(sets, pairs, law)
    if scale is None:
        return law
    return replace(
        law,
        basis="own_history",
        sigma0_s=law.sigma0_s * max(scale, 1.0),
        sigma1_s=law.sigma1_s * scale,
        bound0_s=law.bound0_s * max(scale, 1.0),
        bound1_s=law.bound1_s * scale,
    )


def _one_object(history: Catalogue | Sequence[ElementSet]) -> Catalogue:
    sets = as_catalogue(history)
    if len(np.unique(sets.catalog_number)) != 1:
        raise ValueError(f"want the sets of one object, got {len(sets)} of several")
    return sets.take(np.argsort(sets.epoch_s(sets[0].epoch), kind="stable"))


def _scale(sets: Catalogue, pairs: Pairs, law: Growth) -> float | None:
    """What multiplies the law of the newest set, None where there are too few."""
    count = len(pairs) + 1
    if count < histories.LEAST_SETS:
        return None
    named = class_laws(sets).named[-1]
    sigma_s, _, _ = growth.errors(law, pairs.age_days)
    scales = histories.own_scales(
        np.zeros(len(pairs), dtype=np.int64),
        np.abs(pairs.late_s),
        sigma_s,
        np.array([growth.load().usual[str(named)]]),
        np.array([count]),
    )
    return float(scales[0])


def _steers(sets: Catalogue, pairs: Pairs) -> bool:
    laws = class_laws(sets)
    jumps = histories.steered(
        laws.motion_rev_day[pairs.row],
        laws.motion_rev_day[pairs.truth],
        laws.drag_s_day2[pairs.row],
        laws.drag_s_day2[pairs.truth],
        pairs.age_days,
    )
    return bool(jumps.any())


# --- in words ----------------------------------------------------------------------


def told(history: Catalogue | Sequence[ElementSet]) -> list[tuple[str, str]]:
    """What is known of the errors of one object: labels and sentences for a page."""
    sets = _one_object(history)
    law, pairs = own_growth(sets), pairs_of(sets)
    rows = [("Times", _expected(law)), ("Serves", _serves(law))]
    rows.append(("Known from", _known_from(sets, law)))
    if len(pairs):
        rows.append(("Measured", _measured(pairs)))
    if law.manoeuvres:
        rows.append(("Steers", _steering(sets, pairs)))
    return rows


def document(history: Catalogue | Sequence[ElementSet]) -> dict[str, Any]:
    """The same for machines: the law, what it expects by age, and every comparison."""
    sets = _one_object(history)
    law, pairs = own_growth(sets), pairs_of(sets)
    expected = zip(_AGES_DAYS, *growth.errors(law, np.array(_AGES_DAYS)), strict=True)
    seen = zip(pairs.age_days, pairs.late_s, pairs.across_km, strict=True)
    keys = ("age_days", "timing_sigma_s", "timing_bound_s", "cross_track_sigma_km")
    return {
        "basis": law.basis,
        "manoeuvres": law.manoeuvres,
        "expected": [_rounded(keys, one) for one in expected],
        "serves": [
            {"purpose": purpose, "age_days": round(days, 2)}
            for purpose, days in serves_days(law).items()
        ],
        "measured": [
            _rounded(("age_days", "late_s", "across_km"), one) for one in seen
        ],
    }


def _rounded(keys: Sequence[str], values: Iterable[Any]) -> dict[str, float]:
    pairs = zip(keys, values, strict=True)
    return {key: round(float(value), 4) for key, value in pairs}


def _expected(law: Growth) -> str:
    sigma, bound, across = growth.errors(law, np.array(_AGES_DAYS))
    parts = [
        f"±{_seconds(s)} (95 % within {_seconds(b)}) after {_days(age)}"
        for age, s, b in zip(_AGES_DAYS, sigma.tolist(), bound.tolist(), strict=True)
    ]
    near, far = (f"{one:.2g}" for one in (across[0], across[-1]))
    sideways = near if near == far else f"{near} to {far}"
    return f"{', '.join(parts)}; across the path ±{sideways} km"


def _serves(law: Growth) -> str:
    parts = []
    for purpose, days in serves_days(law).items():
        if days <= 0.0:
            parts.append(f"never good enough for {purpose}")
        else:
            parts.append(f"{purpose} for {days:.{days < 10.0:d}f} days")
    return f"{', '.join(parts)} from the epoch"


def serves_days(law: Growth) -> dict[str, float]:
    """Age up to which the 95 % bound serves each of :data:`PURPOSES`, days.

    No further than sets are used at all; 0 where not even the epoch is good enough.
    """
    ages = np.arange(0.0, USABLE_DAYS, _STEP_DAYS)
    _, bound_s, _ = growth.errors(law, ages)
    return {
        purpose: float(np.interp(limit_s, bound_s, ages, left=0.0))
        for purpose, limit_s in PURPOSES.items()
    }


def _known_from(sets: Catalogue, law: Growth) -> str:
    laws = class_laws(sets)
    kind = _CLASS_WORDS[str(laws.named[-1])]
    if law.basis == "own_history":
        return f"its own successive sets, weighed against {kind}"
    if laws.borrowed[-1]:
        return f"{kind}, borrowed: its own kind was never measured"
    return f"its class: {kind}"


def _measured(pairs: Pairs) -> str:
    """What older sets were off by when newer ones came."""
    order = np.argsort(pairs.age_days)
    some = order[np.unique(np.linspace(0, order.size - 1, _TOLD).round().astype(int))]
    parts = [
        f"{_seconds(abs(late))} {'late' if late > 0 else 'early'} after {age:.1f} days"
        for age, late in zip(
            pairs.age_days[some].tolist(), pairs.late_s[some].tolist(), strict=True
        )
    ]
    many = len(pairs)
    head = "1 comparison" if many == 1 else f"{many} comparisons"
    return f"{head} of its sets: {', '.join(parts)}"


def _steering(sets: Catalogue, pairs: Pairs) -> str:
    if len(pairs) and _steers(sets, pairs):
        return "its sets changed as no air changes them; it may do so again any time"
    return "craft of its kind manoeuvre; no prediction knows of the next time"


def _days(age: float) -> str:
    return "a day" if age == 1.0 else f"{age:.0f} days"


def _seconds(value: float) -> str:
    if value >= 99.5:
        return f"{value / 60.0:.0f} min"
    if value < 0.01:
        return "under 0.01 s"
    return f"{value:.2g} s" if value < 9.95 else f"{value:.0f} s"


def notes_on(
    names: Sequence[str],
    age_days: ArrayLike,
    bound_s: ArrayLike,
    purpose: str = "high-speed imaging",
) -> tuple[Note, ...]:
    """A note on how many of the passes shown are too uncertain for a purpose.

    ``names``, ``age_days`` and ``bound_s`` ``(n,)`` are those of the passes.
    """
    age, bounds = np.asarray(age_days), np.asarray(bound_s, dtype=np.float64)
    limit_s = PURPOSES[purpose]
    bad = np.flatnonzero(bounds > limit_s)
    if not bad.size:
        return ()
    worst = int(bad[np.argmax(bounds[bad])])
    which = f"{bad.size} of the {bounds.size} passes here" if bad.size > 1 else ""
    which = which or f"{names[worst]}"
    worst_s, days = _seconds(float(bounds[worst])), abs(float(age[worst]))
    most = f"{names[worst]} " if bad.size > 1 else ""
    return (
        Note(
            text=f"{which} may be over {_seconds(limit_s)} early or late, which is too "
            f"uncertain for {purpose} ({most}{worst_s}, elements {days:.1f} days off): "
            "fresh elements help, if the object does not steer",
            severity="caution",
            values={"too_uncertain": int(bad.size), "limit_s": limit_s},
        ),
    )
