"""A placing as it is written: a plan again, JSON, CSV."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from passes.options import Output
from passes_plugins.streaks.document import (
    Document,
    iso,
    number,
    site_document,
    span_document,
)

if TYPE_CHECKING:
    from passes_plugins.streaks.placing import Hold, Placed
    from passes_plugins.streaks.planning import Planned

#: Comments of a plan file are no wider.
_WIDTH = 78


def write_placed(found: Placed, ready: Planned, output: Output) -> None:
    """Write a placing: the plan again, or the figures."""
    demo = ready.services.demo
    output.write(
        table=lambda screen: _plan_page(found, demo),
        document=lambda: placed_document(found, ready),
        records=lambda: _sub_rows(found),
        columns=("start", "exposure_s", "target", "filter", "gain", "before"),
        site=ready.services.site,
        window=ready.services.window,
        demo=demo,
    )


def words_of(found: Placed) -> list[str]:
    """What the placing does, a sentence each."""
    hours = f"{found.kept_before_s / 3600:.3f} h of exposure is expected to be kept"
    if found.leave_it:
        return [f"Leave it: {reason(found)}.", f"As planned, {hours}."]
    lines = [
        f"As planned, {hours};",
        f"placed, {found.kept_after_s / 3600:.3f} h: {found.gain_s:.0f} s more.",
        f"Cost: {found.held_s:.0f} s of waiting; the session ends "
        f"{abs(found.later_s):.0f} s {'later' if found.later_s >= 0 else 'earlier'}.",
    ]
    if found.moved_chores:
        lines.append(f"Dithers, focus runs and flips moved: {found.moved_chores}.")
    if found.left_out:
        lines.append(f"Subs left out at the end of the dark: {found.left_out}.")
    return [*lines, *map(_held, found.holds)]


def reason(found: Placed) -> str:
    """Why a plan is left as it is."""
    if not found.spoiled:
        return "stacking handles this"
    subs = "1 sub is" if found.spoiled == 1 else f"{found.spoiled} subs are"
    return f"{subs} likely to be spoiled, but no other starts gain more than they cost"


def _held(hold: Hold) -> str:
    """One wait, and what it is for."""
    from passes.tables import plain

    start = hold.sub.start
    one = hold.crossing
    why = "for what comes later"
    if one is not None:
        name = plain(one.name or str(one.catalog_number), 40)
        why = f"while {name} crosses ({one.entry.time:%H:%M:%S} UTC)"
    return f"Sub {hold.sub.index} waits {hold.seconds} s, to {start:%H:%M:%S}, {why}."


def _plan_page(found: Placed, demo: bool) -> str:
    """A plan again: what is said of it stands in comments."""
    from passes.plans import plan_text

    said = ["Demo: site, objects, rig and plan are invented."] if demo else []
    warned = [one.text for one in found.before.notes if one.severity == "warning"]
    lines = [*said, *words_of(found), *warned]
    return (
        "".join(f"# {row}\n" for line in lines for row in wrap(line, _WIDTH))
        + "\n"
        + plan_text(found.plan)
    )


def placed_document(found: Placed, ready: Planned) -> Document:
    """A placing as JSON has it."""
    from passes.plans import plan_text

    return {
        "kind": "placing",
        "site": site_document(ready.services.site),
        "window": span_document(ready.services.window),
        "demo": ready.services.demo,
        "leave_it": found.leave_it,
        "kept_before_s": number(found.kept_before_s, 1),
        "kept_after_s": number(found.kept_after_s, 1),
        "gain_s": number(found.gain_s, 1),
        "held_s": number(found.held_s, 1),
        "later_s": number(found.later_s, 1),
        "left_out": found.left_out,
        "moved_chores": found.moved_chores,
        "holds": [_hold_document(hold) for hold in found.holds],
        "subs": _sub_rows(found),
        "plan": plan_text(found.plan),
    }


def _hold_document(hold: Hold) -> Document:
    one = hold.crossing
    return {
        "sub": hold.sub.index,
        "until": iso(hold.sub.start),
        "seconds": hold.seconds,
        "catalog_number": one.catalog_number if one is not None else None,
        "name": one.name or None if one is not None else None,
        "entry": iso(one.entry.time) if one is not None else None,
    }


def _sub_rows(found: Placed) -> list[Document]:
    """The subs as placed; as planned where the plan is left alone."""
    return [
        {
            "start": iso(sub.start),
            "exposure_s": sub.exposure_s,
            "target": sub.target.name,
            "filter": sub.filter or None,
            "gain": sub.gain or None,
            "before": " ".join(sub.before) or None,
        }
        for sub in found.subs
    ]
