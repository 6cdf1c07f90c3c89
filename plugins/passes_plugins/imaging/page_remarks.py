"""The page's remarks: several rigs, other advisers, why, beforehand, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan
from typing import TYPE_CHECKING

from passes.tables import Screen, paragraph, plain
from passes_plugins.imaging.dial import dial

if TYPE_CHECKING:
    from passes.model import Advice, Note
    from passes_plugins.imaging.together import Shared

_SECTIONS = (
    ("why", "Why"),
    ("missing", "Not known of the rig, the object or the site"),
    ("before", "Beforehand"),
    ("caution", "Cautions"),
)


def beside(joined: Sequence[Shared], screen: Screen) -> list[str]:
    """Where the other rigs look, and where they cannot serve together."""
    lines = ["", screen.bold("Together")] if joined else []
    for one in joined:
        text = (
            f"- {one.rig} looks {one.right_arcmin:+.0f}′ right, "
            f"{one.up_arcmin:+.0f}′ up of {one.main}: with {one.main} on the object "
            f"it is {'in' if one.in_field else 'outside'} the field of {one.rig}"
        )
        if not isnan(one.chance):
            text += f" (without looking: a chance of {100 * one.chance:.0f} %)"
        lines += paragraph(plain(f"{text}.", 400), screen, "  ")
        if one.conflict:
            lines += paragraph(
                f"- Not together: {plain(one.conflict, 400)}.", screen, "  "
            )
    return lines


def elsewhere(advice: Sequence[Advice], screen: Screen) -> list[str]:
    """What other advisers would set, a line each, and what they remark."""
    lines: list[str] = []
    for one in advice:
        known = not isnan(one.exposure_s)
        if one.adviser == "imaging" or not (known or one.notes):
            continue
        text = f"Adviser {one.adviser} on {one.rig}"
        if known:
            text += f": {dial(one.exposure_s)}"
            text += f", bound by {one.limit}" if one.limit else ""
        lines += paragraph(plain(text, 200), screen, "  ")
        for note in one.notes:
            lines += paragraph(f"- {plain(note.text, 600)}", screen, "  ")
    return ["", *lines] if lines else []


def remarks(own: Sequence[Advice], screen: Screen) -> list[str]:
    """Remarks by section; what several rigs share is said once."""
    lines: list[str] = []
    for section, heading in _SECTIONS:
        told: list[str] = []
        for one in own:
            for note in one.notes:
                if note.values.get("section") == section:
                    text = _remark(one, note, section, len(own) > 1)
                    if text not in told:
                        told.append(text)
        if told:
            lines += ["", screen.bold(heading)]
            for text in told:
                lines += paragraph(f"- {plain(text, 600)}", screen, "  ")
    return lines


def _remark(advice: Advice, note: Note, section: str, several: bool) -> str:
    return f"{advice.rig}: {note.text}" if several and section == "why" else note.text
