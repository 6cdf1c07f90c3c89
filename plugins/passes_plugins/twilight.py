"""A session reporter: the stages of the night, from sunset to sunrise, and the Moon."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan
from typing import TYPE_CHECKING, Any

from passes.contributions import SessionReporter
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    from datetime import datetime

    from passes.contributions import SessionBriefing
    from passes.model import Event, Night, Note, Report

KIND = "twilight"
#: A window this long is no night between sunset and sunrise, s.
WHOLE_DAY_S = 86_400.0 - 60.0
#: What a stage is called, and the Sun's altitude that makes it (USNO's definitions).
STAGES = {
    "sunset": ("Sunset", -50.0 / 60.0),
    "civil-dusk": ("End of civil twilight", -6.0),
    "nautical-dusk": ("End of nautical twilight", -12.0),
    "dark": ("End of astronomical twilight", -18.0),
    "dawn": ("Start of astronomical twilight", -18.0),
    "nautical-dawn": ("Start of nautical twilight", -12.0),
    "civil-dawn": ("Start of civil twilight", -6.0),
    "sunrise": ("Sunrise", -50.0 / 60.0),
}


def report(briefing: SessionBriefing) -> Report:
    """The night's stages as events in order of time; empty without a night."""
    from passes.model import Note, Report

    night = briefing.session.night
    if night is None:
        missing = Note(text="The session names no night, so there is no twilight.")
        return Report(kind=KIND, reporter="twilight", notes=(missing,))
    events = sorted((*_sun(night), *_moon(night)), key=lambda event: event.best)
    return Report(
        kind=KIND,
        reporter="twilight",
        events=tuple(events),
        rows=tuple(_row(event) for event in events),
        notes=tuple(_notes(night)),
        summary=_summary(night),
    )


# --- stages ------------------------------------------------------------------


def _sun(night: Night) -> Iterator[Event]:
    """Each stage that happens; one that lies on the window's edge did not."""
    window = night.window
    # Where the Sun does not set (or rise) the window runs from noon to noon.
    if window.duration_s < WHOLE_DAY_S:
        yield _event("sunset", window.start)
        yield _event("sunrise", window.end)
    for span, dusk, dawn in (
        (night.civil, "civil-dusk", "civil-dawn"),
        (night.nautical, "nautical-dusk", "nautical-dawn"),
        (night.dark, "dark", "dawn"),
    ):
        if span is not None and span.start > window.start:
            yield _event(dusk, span.start)
        if span is not None and span.end < window.end:
            yield _event(dawn, span.end)


def _moon(night: Night) -> Iterator[Event]:
    for span in night.moon_up:
        if span.start > night.window.start:
            yield _event("moonrise", span.start)
        if span.end < night.window.end:
            yield _event("moonset", span.end)


def _event(stage: str, time: datetime) -> Event:
    from passes.model import Event

    words, sun_altitude_deg = STAGES.get(stage, (stage.capitalize(), None))
    details: dict[str, Any] = {"stage": stage, "words": words}
    if sun_altitude_deg is not None:
        details["sun_altitude_deg"] = sun_altitude_deg
    return Event(
        id=f"{stage}-{time:%Y%m%dT%H%M}",
        kind=KIND,
        subject="Moon" if stage.startswith("moon") else "Sun",
        start=time,
        best=time,
        end=time,
        weight=0.0,  # nothing to shoot: it never competes for a rig
        details=details,
    )


# --- rows and words ----------------------------------------------------------


def _row(event: Event) -> dict[str, Any]:
    return {
        "time": event.best,
        "stage": event.details["stage"],
        "words": event.details["words"],
    }


def _notes(night: Night) -> Iterator[Note]:
    from passes.model import Note

    if night.note:
        yield Note(text=night.note)
    if not night.moon_up:
        yield Note(text="The Moon stays below the horizon all night.")
    elif not isnan(night.moon_illuminated):
        percent = 100.0 * night.moon_illuminated
        yield Note(
            text=f"The Moon is {percent:.0f} % lit.",
            values={"moon_illuminated": night.moon_illuminated},
        )


def _summary(night: Night) -> dict[str, Any]:
    dark_s = night.dark.duration_s if night.dark else 0.0
    moon_s = sum(span.duration_s for span in night.moon_up)
    return {
        "date": night.date.isoformat(),
        "dark_h": dark_s / 3600.0,
        "dark_moonless_h": _moonless_s(night) / 3600.0,
        "moon_up_h": moon_s / 3600.0,
        "moon_illuminated": night.moon_illuminated,
    }


def _moonless_s(night: Night) -> float:
    """Seconds of astronomical darkness with the Moon below the horizon."""
    if night.dark is None:
        return 0.0
    lit_s = 0.0
    for span in night.moon_up:
        start, end = max(span.start, night.dark.start), min(span.end, night.dark.end)
        lit_s += max((end - start).total_seconds(), 0.0)
    return night.dark.duration_s - lit_s


@hookimpl
def passes_session_reporters() -> Iterator[SessionReporter]:
    yield SessionReporter(
        name="twilight",
        summary="When it gets dark and light, and when the Moon rises and sets.",
        report=report,
        kinds=(KIND,),
    )
