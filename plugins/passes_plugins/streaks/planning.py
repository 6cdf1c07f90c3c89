"""From a plan to a session: site, rig, subs and the meridian flip."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from passes import sky
from passes.contributions import Services
from passes.errors import InputError
from passes.model import Note, Rig, Session, Site, Span, Sub
from passes.plans import Plan, subs_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A plan ready to be judged, and the services at its site and over its time."""

    plan: Plan
    session: Session
    services: Services
    notes: tuple[Note, ...] = ()


def planned(
    plan: Plan, services: Services, *, site_named: bool, rig_name: str = ""
) -> Planned:
    """Put a plan on its site and its rig.

    ``site_named`` says that a site was asked for beside the plan, which then counts;
    ``rig_name`` likewise.  UnknownName for a site or a rig nobody knows, InputError
    where neither the plan nor anyone else names them.
    """
    rig = _rig(plan, services, rig_name)
    if plan.site and not site_named:
        services = services.moved(site=plan.site)
    subs = _subs(plan, rig, services.site)
    window = Span(start=subs[0].start, end=max(sub.end for sub in subs))
    services = services.moved(window=window)
    session = Session(
        night=services.night,
        rigs=(rig,),
        targets=plan.targets,
        subs=subs,
        dither_arcsec=plan.dither_arcsec,
    )
    return Planned(
        plan=plan,
        session=session,
        services=services,
        notes=(*_overlaps(subs), *_dithers(plan, rig)),
    )


def _rig(plan: Plan, services: Services, name: str) -> Rig:
    name = name or plan.rig
    if name:
        return services.rig(name)
    if len(services.rigs) == 1:
        return services.rigs[0]
    known = ", ".join(rig.name for rig in services.rigs) or "none"
    raise InputError(
        f"{plan.where}: which rig? give rig under [session] or --rig (known: {known})"
    )


def _subs(plan: Plan, rig: Rig, site: Site) -> tuple[Sub, ...]:
    """The plan's subs; only an equatorial mount flips at the meridian."""
    flips = rig.mount.kind != "alt-azimuth"
    return subs_of(
        replace(plan, rig=rig.name),
        transit=sky.transits_at(site) if flips else None,
        rotation_deg=rig.rotation_deg,
    )


def _overlaps(subs: tuple[Sub, ...]) -> list[Note]:
    """Subs of one camera cannot be open at once."""
    found = [later for one, later in pairwise(subs) if later.start < one.end]
    if not found:
        return []
    return [
        Note(
            text=f"{len(found)} subs begin before the one before them has ended, the "
            f"first at {found[0].start:%H:%M:%S} UTC.",
            severity="warning",
        )
    ]


def _dithers(plan: Plan, rig: Rig) -> list[Note]:
    """Dithers move the pixels; chances and the searched field count them in."""
    if not plan.dither_arcsec > 0.0:
        return []
    px = plan.dither_arcsec / rig.scale_arcsec_px
    return [
        Note(
            text=f"Dithers of up to {plan.dither_arcsec:g}″ move the pixels given here "
            f"by up to {px:.0f}.",
            values={"dither_px": round(px, 1)},
        )
    ]
