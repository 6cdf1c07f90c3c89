"""A session plan put on its site, its rig and its night."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from math import nan
from typing import TYPE_CHECKING, Any

from passes.errors import InputError
from passes.model import Overheads, Rig, Session, Site, Sub, Target

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.plans import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A plan's targets, subs and rig, and services at its site and over its night.

    ``overheads`` are None where the plan fixes each start.
    """

    targets: tuple[Target, ...]
    subs: tuple[Sub, ...]
    rig: Rig
    services: Services
    reserved: frozenset[str]
    overheads: Overheads | None = None
    dither_arcsec: float = nan

    @property
    def session(self) -> Session:
        """What reporters are asked about."""
        rigs = self.services.rigs
        if self.rig.name not in [rig.name for rig in rigs]:
            rigs = (*rigs, self.rig)
        return Session(
            night=self.services.night,
            rigs=rigs,
            targets=self.targets,
            subs=self.subs,
            overheads=self.overheads,
            dither_arcsec=self.dither_arcsec,
        )


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
        targets=plan.targets,
        subs=subs,
        rig=rig,
        services=services,
        reserved=frozenset({rig.name} if reserved else ()),
        overheads=None if plan.subs else plan.overheads,
        dither_arcsec=plan.dither_arcsec,
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
    from passes import sky
    from passes.plans import subs_of

    flips = rig.mount.kind != "alt-azimuth"
    return subs_of(
        replace(plan, rig=rig.name),
        transit=sky.transits_at(site) if flips else None,
        rotation_deg=rig.rotation_deg,
    )
