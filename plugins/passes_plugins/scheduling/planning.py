"""A session plan put on its site, its rig and its night."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from passes.errors import InputError
from passes.model import Rig, Site, Sub, Target

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.plans import Plan

_DAY_S, _STEP_S = 86_400.0, 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A plan's subs and rig, and services at its site and over its night."""

    plan: Plan
    subs: tuple[Sub, ...]
    rig: Rig
    services: Services
    reserved: frozenset[str]


def placed(plan: Plan, services: Services, typed: Mapping[str, Any]) -> Placed:
    """What was typed about site, time and rigs goes before the plan's own.

    The plan's rig is the session's alone, unless it was named or is the only one.
    InputError where no rig can be told, UnknownName for one nobody knows.
    """
    if plan.site and not (typed.get("site_name") or typed.get("at")):
        services = services.moved(site=plan.site)
    rig = _rig(plan, services)
    subs = _subs(plan, rig, services.site)
    if not (typed.get("evening") or typed.get("start")):
        services = _that_night(services, subs[0].start)
    others = any(one.name != rig.name for one in services.rigs)
    reserved = others and rig.name not in (typed.get("rigs") or ())
    return Placed(
        plan=plan,
        subs=subs,
        rig=rig,
        services=services,
        reserved=frozenset({rig.name} if reserved else ()),
    )


def _rig(plan: Plan, services: Services) -> Rig:
    if plan.rig:
        return services.rig(plan.rig)
    if len(services.rigs) == 1:
        return services.rigs[0]
    known = ", ".join(rig.name for rig in services.rigs) or "none"
    raise InputError(
        f"{plan.where}: which rig? give rig under [session] or --rig (known: {known})"
    )


def _that_night(services: Services, start: datetime) -> Services:
    """The same services over the night in which the plan begins."""
    from passes import sky

    window = services.window
    if window.start <= start <= window.end:
        return services
    return services.moved(window=sky.night_containing(services.site, start).window)


def _subs(plan: Plan, rig: Rig, site: Site) -> tuple[Sub, ...]:
    """The plan's subs; a mount that stands on the pole's axis flips at the meridian."""
    from passes.plans import subs_of

    def transit(target: Target, after: datetime) -> datetime | None:
        return _next_transit(site, target, after)

    flips = rig.mount.kind != "alt-azimuth"
    return subs_of(
        replace(plan, rig=rig.name),
        transit=transit if flips else None,
        rotation_deg=rig.rotation_deg,
    )


def _next_transit(site: Site, target: Target, after: datetime) -> datetime | None:
    """When a target next crosses the meridian in the coming day, upper transit."""
    import numpy as np

    from passes import sky, vectors

    time_s = np.arange(0.0, _DAY_S + 2 * _STEP_S, _STEP_S)
    icrs = vectors.direction(np.radians(target.ra_deg), np.radians(target.dec_deg))
    turned = np.swapaxes(sky.teme_to_icrs(after, time_s), -1, -2) @ icrs
    lon, _, _ = vectors.spherical(turned)
    hour = sky.gmst_rad(after, time_s) + np.radians(site.longitude_deg) - lon
    hour = np.mod(hour + np.pi, 2.0 * np.pi) - np.pi
    rising = np.flatnonzero((hour[:-1] <= 0.0) & (hour[1:] > 0.0))
    if not rising.size:
        return None
    i = int(rising[0])
    part = -hour[i] / (hour[i + 1] - hour[i])
    return after + timedelta(seconds=float(time_s[i] + _STEP_S * part))
