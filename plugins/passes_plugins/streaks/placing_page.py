"""A placing as it is written: a plan again, JSON, CSV."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from passes.options import Output
from passes_plugins.streaks.document import (
    Document,
    iso,
    number,
    site_document,
    span_document,
)

if TYPE_CHECKING:
    from passes_plugins.streaks.placing import Placed
    from passes_plugins.streaks.planning import Planned


def write_placed(found: Placed, ready: Planned, output: Output) -> None:
    """Write a placing: the plan again, or the figures."""
    demo = ready.services.demo
    output.write(
        table=lambda screen: _plan_page(found, demo),
        document=lambda: placed_document(found, ready),
        records=lambda: _sub_rows(found),
        columns=("start", "exposure_s", "target", "filter", "gain"),
        site=ready.services.site,
        window=ready.services.window,
        demo=demo,
    )


def words_of(found: Placed) -> list[str]:
    """What the placing does, a sentence each."""
    hours = f"{found.kept_before_s / 3600:.3f} h of exposure is expected to be kept"
    if found.leave_it:
        return [
            f"Leave it: stacking handles this. As planned, {hours};",
            "no other starts gain more than they cost.",
        ]
    lines = [
        f"As planned, {hours};",
        f"placed, {found.kept_after_s / 3600:.3f} h: {found.gain_s:.0f} s more.",
        f"Cost: {found.held_s:.0f} s of waiting; the session ends "
        f"{abs(found.later_s):.0f} s {'later' if found.later_s >= 0 else 'earlier'}.",
    ]
    if found.moved_chores:
        lines.append(f"Dithers and focus runs moved: {found.moved_chores}.")
    if found.left_out:
        lines.append(f"Subs left out at the end of the dark: {found.left_out}.")
    return lines


def _plan_page(found: Placed, demo: bool) -> str:
    """A plan again: what is said of it stands in comments."""
    from passes.plans import plan_text

    said = ["Demo: site, objects, rig and plan are invented."] if demo else []
    return (
        "".join(f"# {line}\n" for line in (*said, *words_of(found)))
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
        "subs": _sub_rows(found),
        "plan": plan_text(found.plan),
    }


def _sub_rows(found: Placed) -> list[Document]:
    """The subs of the plan as placed; as planned where it is left alone."""
    subs: Sequence[Any] = found.plan.subs
    if found.leave_it:
        subs = [one.sub for one in found.before.judged]
    return [
        {
            "start": iso(sub.start),
            "exposure_s": sub.exposure_s,
            "target": getattr(sub.target, "name", sub.target),
            "filter": sub.filter or None,
            "gain": sub.gain or None,
        }
        for sub in subs
    ]
