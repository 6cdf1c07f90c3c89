"""What an answer says beside its rows: gaps in the catalogue, and limits that cut."""

from __future__ import annotations

from collections import Counter
from math import isnan

from passes.elements import Skipped
from passes.forecast.sampled import ASSUMED_SKY_MAG
from passes.forecast.supply import TOO_FAR, USABLE_DAYS
from passes.forecast.tonight import Choice, Searched
from passes.model import Night, Note, Site

#: What a catalogue should hold, and what its absence costs.
_WANTED = {
    "rocket body": "no rocket bodies in these elements: "
    "much of what the eye sees is missing",
    "station": "no space station in these elements",
}
#: Why many are left out, and what helps.
_FAR = f"their elements are over {USABLE_DAYS:.0f} {TOO_FAR}"
_ELSEWHEN = "passes elements fetch gets fresh elements, --date asks about another night"
#: Elements older than this on median deserve a warning, days.
_OLD_DAYS = 3.0


def notes_of(
    site: Site,
    night: Night,
    searched: Searched,
    choice: Choice,
    found: int,
    shown: int,
    cuts: Counter[str],
    extra: tuple[Note, ...] = (),
) -> tuple[Note, ...]:
    """Notes for the answer, the gravest first."""
    notes = [
        *_age_notes(searched),
        *(_missing_classes(searched) if searched.whole else ()),
        *_left_out(searched),
        *extra,
    ]
    if not shown:
        notes.insert(0, _nothing(searched, found, cuts))
    elif not choice.everything:
        notes.extend(_hidden(choice, shown, found - sum(cuts.values())))
    if night.note:
        notes.append(Note(text=night.note))
    if isnan(site.sky_mag_arcsec2) and shown and not choice.everything:
        notes.append(
            Note(
                text=f"sky of the site not known: {ASSUMED_SKY_MAG} mag/arcsec² assumed"
            )
        )
    return tuple(notes)


def _age_notes(searched: Searched) -> list[Note]:
    age = searched.median_age_days
    if isnan(age) or abs(age) <= _OLD_DAYS:
        return []
    side = "old" if age > 0 else "from after this night"
    return [
        Note(
            text=f"half of the elements are over {abs(age):.0f} days {side}: "
            "trust the times only as far as ± says; fetch fresh ones",
            severity="warning",
            values={"median_age_days": age},
        )
    ]


def _missing_classes(searched: Searched) -> list[Note]:
    return [
        Note(text=text, severity="caution")
        for kind, text in _WANTED.items()
        if searched.objects and kind not in searched.classes
    ]


def _left_out(searched: Searched) -> list[Note]:
    reasons = Counter(one.reason for one in searched.skipped)
    if sum(map(_is_far, searched.skipped)) > 1:  # however far each of them is
        reasons = Counter(
            _FAR if _is_far(one) else one.reason for one in searched.skipped
        )
    notes = []
    if reasons:
        total = sum(reasons.values())
        why, many = reasons.most_common(1)[0]
        most = f"; most often ({many:,}): {why}" if len(reasons) > 1 else f": {why}"
        if many == total > 1:
            most = f", each for this: {why}"
        what = "1 object" if total == 1 else f"{total:,} objects"
        notes.append(Note(text=f"{what} left out{most}", severity="caution"))
    if searched.rejected:
        bad, told = searched.rejected[0], _count(len(searched.rejected), "record")
        notes.append(
            Note(
                text=f"{told} could not be read, the first at {bad.where}: "
                f"{bad.reason}",
                severity="caution",
            )
        )
    return notes


def _is_far(one: Skipped) -> bool:
    return one.reason.endswith(TOO_FAR)


def _count(number: int, one: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def _nothing(searched: Searched, found: int, cuts: Counter[str]) -> Note:
    """Why the answer is empty: what was searched, and the limit that cut most."""
    if not searched.objects:
        text = "there was no object to search"
        if searched.skipped and all(map(_is_far, searched.skipped)):
            text += f"; {_ELSEWHEN}"
    elif not found:
        of_all = searched.objects
        text = f"none of {of_all} objects rises above the limit in this window"
        if searched.objects == 1:
            text = "the object does not rise above the limit in this window"
    else:
        why, many = cuts.most_common(1)[0]
        text = (
            f"nothing to see: {_count(found, 'pass', 'passes')} of "
            f"{_count(searched.objects, 'object')}, {many} of them {why}; "
            "--all lists every pass"
        )
    return Note(text=text, severity="caution", values=dict(cuts))


def _hidden(choice: Choice, shown: int, worthy: int) -> list[Note]:
    more = worthy - shown
    if more <= 0:
        return []
    return [
        Note(
            text=f"{more} more visible passes rank below these: --limit 50 shows more, "
            "--all every pass",
            values={"more": more},
        )
    ]
