"""How long subs should be: where the sky outweighs read noise, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from math import nan

import numpy as np

from passes.errors import InputError
from passes.model import Session, Sub
from passes.plans.sessions import MOST_SUBS
from passes_plugins.streaks.assessing import Assessment, assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.exposing import camera_of
from passes_plugins.streaks.frames import rig_of
from passes_plugins.streaks.looks import Found, looks_of
from passes_plugins.streaks.planning import Planned
from passes_plugins.streaks.worth import weight_of

#: Sky electrons over the square of the read noise from which the sky rules (common
#: practice: the noise is then within 5 % of the sky's own).
SKY_OVER_READ = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SkyLimit:
    """The shortest sub, of one filter and gain, that the sky limits; nan is unknown.

    ``sky_e_s`` is a pixel's at the session's median.
    """

    filter: str
    gain: str
    sky_e_s: float
    read_noise_e: float

    @property
    def exposure_s(self) -> float:
        """Where sky electrons are ten times the square of the read noise."""
        if not self.sky_e_s > 0.0:
            return nan
        return SKY_OVER_READ * self.read_noise_e**2 / self.sky_e_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Length:
    """What subs of one length would do in the plan's time; exposures in seconds.

    ``deep_s`` is the exposure kept, counted as exposure without read noise: what
    matters for the depth of the stack.
    """

    exposure_s: float
    subs: int
    verdicts: dict[str, int]
    open_s: float
    kept_s: float
    deep_s: float
    planned: bool


def sky_limits(found: Assessment) -> tuple[SkyLimit, ...]:
    """The sky limit of each filter and gain of a session."""
    rigs = {rig.name: rig for rig in found.session.rigs}
    groups: dict[tuple[str, str, str], list[int]] = {}
    for row, one in enumerate(found.judged):
        sub = one.sub
        groups.setdefault((sub.rig, sub.filter, sub.gain), []).append(row)
    limits = []
    for (_, name, gain), rows in groups.items():
        rig = rig_of(found.judged[rows[0]].sub, rigs)
        if rig is None or found.exposures is None:
            continue
        camera = camera_of(rig, name, gain, found.choices)
        limits.append(
            SkyLimit(
                filter=name,
                gain=gain,
                sky_e_s=float(np.median(found.exposures.sky_e_s[rows])),
                read_noise_e=camera.read_noise_e,
            )
        )
    return tuple(limits)


def tried(
    ready: Planned, choices: Choices, exposures_s: Sequence[float]
) -> tuple[Assessment, tuple[Length, ...]]:
    """The plan as it is, then with subs of other lengths in the same time.

    Each stretch of one target, filter, gain and length is filled anew, overheads
    counted as the plan has them on average.
    """
    first = assess(
        ready.session,
        ready.services,
        choices,
        notes=ready.notes,
    )
    rows = [_length(first, planned=True)]
    for exposure_s in exposures_s:
        session = replace(ready.session, subs=_refilled(ready.session.subs, exposure_s))
        again = _again(first, session)
        other = assess(session, ready.services, choices, given=again)
        rows.append(_length(other, planned=False))
    return first, tuple(sorted(rows, key=lambda row: row.exposure_s))


def _refilled(subs: Sequence[Sub], exposure_s: float) -> tuple[Sub, ...]:
    """Subs of another length over the same stretches."""
    runs: list[list[Sub]] = []
    for sub in sorted(subs, key=lambda one: one.start):
        if runs and _kind(runs[-1][-1]) == _kind(sub):
            runs[-1].append(sub)
        else:
            runs.append([sub])
    found: list[Sub] = []
    for run in runs:
        span_s = (run[-1].end - run[0].start).total_seconds()
        lost_s = span_s - sum(sub.exposure_s for sub in run)
        gap_s = max(lost_s / max(len(run) - 1, 1), 0.0)
        count = max(int((span_s + gap_s + 1e-6) / (exposure_s + gap_s)), 1)
        if len(found) + count > MOST_SUBS:
            raise InputError(f"--try-exposures {exposure_s:g}: over {MOST_SUBS:,} subs")
        step = (exposure_s + gap_s) / (run[0].exposure_s + gap_s)
        for i in range(count):
            like = run[min(int(i * step), len(run) - 1)]
            start = run[0].start + timedelta(seconds=i * (exposure_s + gap_s))
            found.append(
                replace(like, index=len(found) + 1, start=start, exposure_s=exposure_s)
            )
    return tuple(found)


def _kind(sub: Sub) -> tuple[str, str, str, float]:
    return sub.target.name, sub.filter, sub.gain, sub.exposure_s


def _again(first: Assessment, session: Session) -> list[Found] | None:
    """The first search shared out anew, where the fields are the same."""
    frames = {one.sub.target: one.frame for one in first.judged}
    known = {sub.index: frames[sub.target] for sub in session.subs}
    if any(frame is None for frame in known.values()):
        return None
    looks = looks_of(session, {k: f for k, f in known.items() if f is not None})
    if len(looks) != len(first.found):
        return None
    return [
        replace(found, look=look)
        for look, found in zip(looks, first.found, strict=True)
    ]


def _length(found: Assessment, planned: bool) -> Length:
    counts: dict[str, int] = {}
    for one in found.judged:
        counts[one.verdict] = counts.get(one.verdict, 0) + 1
    exposure = np.array([one.sub.exposure_s for one in found.judged])
    kept = exposure * [weight_of(one) for one in found.judged]
    deep = nan
    if found.exposures is not None:
        sky = found.exposures.sky_e_s * exposure
        deep = float(np.sum(kept * sky / found.exposures.noise_e**2))
    return Length(
        exposure_s=float(np.median(exposure)),
        subs=len(found.judged),
        verdicts=counts,
        open_s=float(exposure.sum()),
        kept_s=float(kept.sum()),
        deep_s=deep,
        planned=planned,
    )
