"""Which field is worth an hour: what is kept, weighed by air, sky and the flip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from passes import sky
from passes.model import Target
from passes.plans import Plan, PlannedSub
from passes_plugins.streaks.assessing import Assessment, Judged, assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.planning import Planned, planned
from passes_plugins.streaks.surroundings import dark_mag, extinction_mag
from passes_plugins.streaks.worth import weight_of

#: A flip takes so long where the plan does not say, s (common practice, no source).
_FLIP_S = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour:
    """One field in one hour; ``worth`` is 1 for a clean hour at a dark zenith.

    ``flip_min`` is how long until the meridian, minutes; nan where it is not crossed
    within twelve hours, or the mount needs no flip.  The parts of the worth are
    ``kept`` (streaks), ``air`` (what extinction leaves of depth), ``dark`` (Moon,
    twilight and the sky's own glow through the filter) and ``flip`` (time left).
    """

    start: datetime
    target: str
    plan: str
    kept: float
    air: float
    dark: float
    flip: float
    spoiled: int
    subs: int
    altitude_deg: float
    airmass: float
    sky_mag_arcsec2: float
    moon_altitude_deg: float
    moon_away_deg: float
    moon_lit: float
    flip_min: float
    worth: float


def compared(
    ready: Planned, others: Sequence[Plan], choices: Choices
) -> list[list[Hour]]:
    """Every target of every plan over the first plan's subs; hours, the best first.

    Each is taken by the first plan's rig from its site, at its times, so that fields
    and not plans are compared.
    """
    hours: dict[datetime, list[Hour]] = {}
    for plan in (ready.plan, *others):
        for target in plan.targets:
            for hour in _hours(_instead(ready, plan, target), plan.where, choices):
                hours.setdefault(hour.start, []).append(hour)
    return [sorted(hours[start], key=lambda one: -one.worth) for start in sorted(hours)]


def _instead(ready: Planned, plan: Plan, target: Target) -> Planned:
    """The first plan's exposures on another target."""
    fixed = tuple(
        PlannedSub(
            start=sub.start,
            exposure_s=sub.exposure_s,
            filter=sub.filter,
            gain=sub.gain,
        )
        for sub in ready.session.subs
    )
    other = replace(
        ready.plan,
        targets=(target,),
        rotations=plan.rotations & {target.name},
        groups=(),
        subs=fixed,
    )
    rig = ready.session.rigs[0].name
    return planned(other, ready.services, site_named=True, rig_name=rig)


def _hours(ready: Planned, where: str, choices: Choices) -> list[Hour]:
    found = assess(ready.session, ready.services, choices)
    groups: dict[datetime, list[int]] = {}
    for row, one in enumerate(found.judged):
        hour = one.sub.start.replace(minute=0, second=0, microsecond=0)
        groups.setdefault(hour, []).append(row)
    transit = _transit(ready)
    return [
        _hour(found, ready, where, start, rows, transit)
        for start, rows in groups.items()
    ]


def _transit(ready: Planned) -> datetime | None:
    """When the target crosses the meridian, for a mount that must flip then."""
    if ready.session.rigs[0].mount.kind == "alt-azimuth":
        return None
    target, start = ready.session.subs[0].target, ready.session.subs[0].start
    site = ready.services.site
    return sky.next_transit(site, target.ra_deg, target.dec_deg, start)


def _hour(
    found: Assessment,
    ready: Planned,
    where: str,
    start: datetime,
    rows: Sequence[int],
    transit: datetime | None,
) -> Hour:
    around = found.around
    assert around is not None
    some: list[Judged] = [found.judged[row] for row in rows]
    kept = _kept(some)
    air, dark = _air(found, rows), _dark(found, rows)
    flip = _flip(ready, start, transit)
    return Hour(
        start=start,
        target=some[0].sub.target.name,
        plan=where,
        kept=kept,
        air=air,
        dark=dark,
        flip=flip,
        spoiled=sum(one.verdict == "spoiled" for one in some),
        subs=len(some),
        altitude_deg=float(np.degrees(np.mean(around.altitude_rad[rows]))),
        airmass=float(np.mean(around.airmass[rows])),
        sky_mag_arcsec2=float(np.mean(around.sky_mag_arcsec2[rows])),
        moon_altitude_deg=float(np.degrees(np.mean(around.moon_altitude_rad[rows]))),
        moon_away_deg=float(np.degrees(np.mean(around.moon_away_rad[rows]))),
        moon_lit=float(np.mean(around.moon_lit[rows])),
        flip_min=_flip_min(some[0].sub.start, transit),
        worth=kept * air * dark * flip,
    )


def _kept(some: Sequence[Judged]) -> float:
    """The part of the exposure that streaks leave."""
    exposure = [one.sub.exposure_s for one in some]
    return float(np.average([weight_of(one) for one in some], weights=exposure))


def _flip_min(start: datetime, transit: datetime | None) -> float:
    """Minutes until the meridian; nan where it is not crossed within twelve hours."""
    if transit is None:
        return np.nan
    minutes = (transit - start).total_seconds() / 60.0
    return minutes if 0.0 <= minutes <= 720.0 else np.nan


def _flip(ready: Planned, start: datetime, transit: datetime | None) -> float:
    """The part of an hour that a flip leaves."""
    if transit is None or not start <= transit < start + timedelta(hours=1):
        return 1.0
    lost_s = ready.plan.overheads.flip_s or _FLIP_S
    return max(1.0 - lost_s / 3600.0, 0.0)


def _air(found: Assessment, rows: Sequence[int]) -> float:
    """How fast depth is gained through the air, as a part of that at the zenith.

    Time to a given depth goes with the square of the signal; nothing below the horizon.
    """
    around = found.around
    assert around is not None
    loss_mag = extinction_mag(found.site) * (around.airmass[rows] - 1.0)
    up = around.altitude_rad[rows] > 0.0
    return float(np.mean(np.where(up, 10.0 ** (-0.8 * loss_mag), 0.0)))


def _dark(found: Assessment, rows: Sequence[int]) -> float:
    """How fast depth is gained under this sky, as a part of that under the dark one.

    Time to a given depth goes with the square of the noise: sky, dark current and read
    noise, so that a narrow filter minds the Moon less.  Sky alone counts where the
    camera's light is not known.
    """
    around, exposures = found.around, found.exposures
    assert around is not None
    assert exposures is not None
    brighter = 10.0 ** (0.4 * (dark_mag(found.site) - around.sky_mag_arcsec2[rows]))
    square = exposures.noise_e[rows] ** 2
    sky_e = exposures.sky_e_s[rows] * exposures.exposure_s[rows]
    least = square - sky_e * (1.0 - 1.0 / brighter)
    known = np.isfinite(square)
    return float(np.mean(np.where(known, least / square, 1.0 / brighter)))
