"""What each kind of sub of a plan is worth, by the second at which it opens."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes.model import Crossing, Sub
from passes_plugins.streaks.assessing import Assessment
from passes_plugins.streaks.belonging import jitter_s
from passes_plugins.streaks.worth import WEIGHTS, Threats, expected_weight, threats

Floats = NDArray[np.float64]

#: So many sigma of time early or late are nothing unusual.
_LIKELY = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kinds:
    """Subs that are worth the same share a row.

    ``values`` ``(kinds, t)`` is the exposure expected to be kept by the second after
    ``origin`` at which a sub opens, -inf past the end; ``which`` is each sub's row.
    """

    origin: datetime
    values: Floats
    which: tuple[int, ...]
    threats: tuple[tuple[Threats, ...], ...]

    def kept(self, k: int, sub: Sub) -> float:
        """Exposure expected to be kept of the k-th sub; 0 where it must not open."""
        row, step = self.values[self.which[k]], round(self._opens_s(sub))
        value = row[step] if step < row.size else -np.inf
        return float(value) if np.isfinite(value) else 0.0

    def worst(self, k: int, sub: Sub, waited_s: float) -> Crossing | None:
        """What would have harmed the k-th sub most, had it not waited so long."""
        late_s = self._opens_s(sub)
        some = [
            (
                (1.0 - WEIGHTS[one.verdicts[i]]) * float(one.sideways[i]),
                one.crossings[i],
            )
            for one in self.threats[self.which[k]]
            for i in _touching(one, sub, late_s - waited_s, late_s).tolist()
        ]
        harm, crossing = max(some, key=lambda one: one[0], default=(0.0, None))
        return crossing if harm > 0.0 else None

    def _opens_s(self, sub: Sub) -> float:
        return (sub.start - self.origin).total_seconds()


def _touching(
    threats: Threats, sub: Sub, first_s: float, last_s: float
) -> NDArray[np.intp]:
    """What may well touch a sub that opens from ``first_s`` to ``last_s``."""
    room = _LIKELY * np.hypot(threats.sigma_s, jitter_s(sub))
    early = threats.entry_s - room < last_s + sub.exposure_s
    return np.flatnonzero(early & (threats.exit_s + room > first_s))


def kinds_of(found: Assessment, until_s: float) -> Kinds:
    """The kinds of a session's subs; none may end later than ``until_s``."""
    groups: dict[tuple[str, str, str, float], list[Sub]] = {}
    keys = []
    for one in found.judged:
        sub = one.sub
        keys.append((sub.target.name, sub.filter, sub.gain, sub.exposure_s))
        groups.setdefault(keys[-1], []).append(sub)
    rows = {key: row for row, key in enumerate(groups)}
    grid = np.arange(0.0, until_s + 1.0)
    some = [tuple(_threats(found, subs)) for subs in groups.values()]
    values = [
        _worth(mine, subs[0], grid, until_s)
        for mine, subs in zip(some, groups.values(), strict=True)
    ]
    return Kinds(
        origin=found.judged[0].sub.start,
        values=np.array(values),
        which=tuple(rows[key] for key in keys),
        threats=tuple(some),
    )


def _threats(found: Assessment, subs: Sequence[Sub]) -> Iterator[Threats]:
    """What may cross the frame of subs of one kind, look by look."""
    frames = {one.sub.index: one.frame for one in found.judged}
    indices = {sub.index for sub in subs}
    for look in found.found:
        mine = [sub for sub in look.look.subs if sub.index in indices]
        frame = frames[mine[0].index] if mine else None
        if frame is not None:
            yield threats(found, look, frame, mine)


def _worth(
    threats: Sequence[Threats], sub: Sub, grid: Floats, until_s: float
) -> Floats:
    weight = np.ones(grid.size)
    for some in threats:
        weight *= expected_weight(some, sub, grid)
    return np.where(grid + sub.exposure_s <= until_s, sub.exposure_s * weight, -np.inf)
