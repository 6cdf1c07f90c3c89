"""Which field is worth an hour: what is kept, weighed by air, sky and the flip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import isfinite, isnan

import numpy as np

from passes import atmosphere, sky, skylight
from passes.model import Site, Target
from passes.plans import Plan, PlannedSub
from passes_plugins.streaks.assessing import Assessment, Judged, assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.planning import Planned, planned
from passes_plugins.streaks.worth import weight_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour:
    """One field in one hour; ``worth`` is 1 for a clean hour at a dark zenith.

    ``flip_min`` is how long until the meridian, minutes; nan where it is not crossed
    within twelve hours, or the mount needs no flip.
    """

    start: datetime
    target: str
    plan: str
    kept: float
    spoiled: int
    subs: int
    altitude_deg: float
    airmass: float
    sky_mag_arcsec2: float
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
    found = assess(ready.session, ready.services, choices, loose_deg=ready.loose_deg)
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
    exposure = np.array([one.sub.exposure_s for one in some])
    kept = float(np.average([weight_of(one) for one in some], weights=exposure))
    airmass = float(np.mean(around.airmass[rows]))
    sky_mag = float(np.mean(around.sky_mag_arcsec2[rows]))
    up = around.altitude_rad[rows] > 0.0
    first = some[0].sub.start
    flip_min = (transit - first).total_seconds() / 60.0 if transit else np.nan
    flips = transit is not None and start <= transit < start + timedelta(hours=1)
    lost = ready.plan.overheads.flip_s / 3600.0 if flips else 0.0
    depth = _depth(found.site, airmass, sky_mag)
    return Hour(
        start=start,
        target=some[0].sub.target.name,
        plan=where,
        kept=kept,
        spoiled=sum(one.verdict == "spoiled" for one in some),
        subs=len(some),
        altitude_deg=float(np.degrees(np.mean(around.altitude_rad[rows]))),
        airmass=airmass,
        sky_mag_arcsec2=sky_mag,
        flip_min=float(flip_min) if 0.0 <= flip_min <= 720.0 else np.nan,
        worth=kept * float(np.mean(up)) * depth * max(1.0 - lost, 0.0),
    )


def _depth(site: Site, airmass: float, sky_mag: float) -> float:
    """How fast depth is gained, as a part of that at the site's dark zenith.

    Signal squared over sky, which is what rules the time to a given signal-to-noise
    under a bright sky: extinction twice, sky once.
    """
    extinction = site.extinction_mag
    if isnan(extinction):
        extinction = float(atmosphere.extinction_mag(site.height_m))
    dark = site.sky_mag_arcsec2
    dark = skylight.DARK_ZENITH_MAG if isnan(dark) else dark
    if not isfinite(airmass):
        return 0.0
    return float(10.0 ** (0.4 * (sky_mag - dark) - 0.8 * extinction * (airmass - 1.0)))
