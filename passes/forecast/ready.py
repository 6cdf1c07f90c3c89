"""What is not ready for tonight: one finding a subject, with what to do."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, time, timedelta
from functools import cached_property, partial
from math import isnan, nan
from pathlib import Path
from typing import TYPE_CHECKING

from passes import sky
from passes.archive import Archive, Holdings
from passes.errors import InputError, PassesError
from passes.forecast import ticking
from passes.forecast.finding import Finding, State
from passes.objects import counted_classes

if TYPE_CHECKING:
    from passes.forecast.services import Forecast

#: Elements older than this tell tonight's times badly, and not at all, days.
STALE_DAYS, USELESS_DAYS = 3.0, 14.0
#: Room on disk below which little, and nothing, can be kept, bytes.
LITTLE_BYTES, NO_BYTES = 200 * 2**20, 20 * 2**20
#: A clock further off than this spoils a transit of half a second, s.
CLOCK_OFF_S = 1.0
#: The archive's newest arrival this far ahead says that the clock went back.
_BACKWARDS = timedelta(minutes=5)


class Tonight:
    """What the looks share: the services, the archive, and what it holds tonight."""

    def __init__(self, forecast: Forecast) -> None:
        self.forecast, self.archive = forecast, Archive(forecast.request.archive)

    @cached_property
    def middle(self) -> datetime:
        """The middle of the night asked about; without a site, nearly so."""
        try:
            window = self.forecast.window
        except PassesError:
            day = self.forecast.request.date
            if day is not None:
                return datetime.combine(day, time(), UTC) + timedelta(days=1)
            return self.forecast.clock() + timedelta(hours=6)
        return window.start + (window.end - window.start) / 2

    @cached_property
    def held(self) -> Holdings:
        """What the archive holds, with ages at that time."""
        return self.archive.holdings(self.middle)


def findings(
    forecast: Forecast, compared: ticking.Compared | PassesError | None = None
) -> Iterator[Finding]:
    """Look at everything that tonight needs; a fault of one hides no other."""
    tonight = Tonight(forecast)
    looks: dict[str, Callable[[Tonight], Finding]] = {
        "site": site,
        "horizon": horizon,
        "elements": elements,
        "classes": classes,
        "ephemeris": ephemeris,
        "Earth": earth,
        "plugins": plugins,
        "disk": disk,
        "clock": partial(clock, compared=compared),
    }
    for subject, look in looks.items():
        try:
            yield look(tonight)
        except PassesError as error:
            first, _, rest = str(error).partition("\n")
            yield Finding(subject=subject, state="bad", text=first, todo=rest)


def site(tonight: Tonight) -> Finding:
    """Where tonight is, and how long it is dark there."""
    try:
        here = tonight.forecast.site
    except InputError:  # nobody said where; a name that is unknown is told as it is
        known = ", ".join(tonight.forecast.config.sites)
        return Finding(
            subject="site",
            state="caution",
            text=f"none chosen{f' (known: {known})' if known else ''}",
            todo="passes site add NAME --at LAT,LON, or --at with each command",
        )
    night = tonight.forecast.night
    name = here.name or f"{here.latitude_deg:.4f}, {here.longitude_deg:.4f}"
    dark = night.dark.duration_s / 3600.0 if night.dark else 0.0
    return Finding(
        subject="site",
        state="good",
        text=f"{name}, {dark:.1f} h of darkness on the evening of {night.date:%F}",
        values={"dark_hours": round(dark, 3)},
    )


def horizon(tonight: Tonight) -> Finding:
    """Whether anything is known of what stands in the way."""
    try:
        corners = tonight.forecast.site.horizon
    except PassesError:
        return Finding(subject="horizon", state="unknown", text="no site, no horizon")
    if corners:
        highest = max(altitude for _, altitude in corners)
        text = f"{len(corners)} corners, the highest at {highest:.0f}°"
        values = {"corners": len(corners), "highest_deg": highest}
        return Finding(subject="horizon", state="good", text=text, values=values)
    return Finding(
        subject="horizon",
        state="caution",
        text="not known; all is taken to be free down to 0°",
        todo="passes site add NAME --horizon FILE, azimuth and altitude of corners",
    )


def elements(tonight: Tonight) -> Finding:
    """How old the elements are at the middle of tonight."""
    tonight.archive.check()
    held = tonight.held
    if not held.objects:
        return Finding(
            subject="elements",
            state="bad",
            text="there are none",
            todo="passes elements fetch, or passes elements add FILE",
        )
    age = held.median_age_days
    text = f"{held.objects:,} objects; half of them within {age:.1f} days of tonight"
    if gone := held.objects - held.usable:
        text += f", {gone:,} over 30 days"
    state, words = _by_age(age if held.usable else nan)
    return Finding(
        subject="elements",
        state=state,
        text=text + words,
        todo="" if state == "good" else "passes elements fetch, where there is network",
        values={
            "objects": held.objects,
            "usable_objects": held.usable,
            "median_age_days": age,
            "oldest_age_days": held.oldest_age_days,
        },
    )


def _by_age(age_days: float) -> tuple[State, str]:
    """What an age means for tonight; nan is that nothing is near enough."""
    if isnan(age_days) or age_days > USELESS_DAYS:
        return "bad", ": too old for tonight's times"
    if age_days > STALE_DAYS:
        return "caution", ": low orbits may be seconds off"
    return "good", ""


def classes(tonight: Tonight) -> Finding:
    """Which kinds of object are there, and which are missing."""
    held = tonight.held
    wanted = {"rocket body": "rocket bodies", "station": "stations"}
    absent = [kind for kind in wanted if not held.classes.get(kind)]
    missing = " and no ".join(wanted[kind] for kind in absent)
    counts = counted_classes(held.classes)
    return Finding(
        subject="classes",
        state="caution" if absent else "good",
        text=(counts or "none") + (f"; no {missing}" if absent else ""),
        todo="passes elements fetch, from sources that have them" if absent else "",
        values={"classes": dict(held.classes), "missing": absent},
    )


def ephemeris(tonight: Tonight) -> Finding:
    """Whether Sun, Moon and planets are known tonight."""
    first, last = sky.ephemeris_span()
    inside = first <= tonight.middle <= last
    return Finding(
        subject="ephemeris",
        state="good" if inside else "bad",
        text=f"Sun, Moon and planets from {first:%F} to {last:%F}",
        todo="" if inside else "tonight lies outside; another date, or a newer passes",
        values={"first": first, "last": last},
    )


def earth(tonight: Tonight) -> Finding:
    """Whether the turning of the Earth is tabulated tonight."""
    end = sky.earth_orientation_end()
    inside = tonight.middle <= end
    text = f"its turning is tabulated to {end:%F}"
    return Finding(
        subject="Earth",
        state="good" if inside else "caution",
        text=text if inside else f"{text}, extended since: metres, not more",
        todo="" if inside else "pip install --upgrade skyfield, at home",
        values={"last": end},
    )


def plugins(tonight: Tonight) -> Finding:
    """Whether any plugin is absent or faulty."""
    listed = tonight.forecast.registry.listing()
    sick = [one.origin.plugin for one in listed if one.state in ("absent", "faulty")]
    return Finding(
        subject="plugins",
        state="caution" if sick else "good",
        text=f"{', '.join(sick)}: something is wrong"
        if sick
        else f"{len(listed)} working",
        todo="passes plugins" if sick else "",
        values={"plugins": len(listed), "faulty": sick},
    )


def disk(tonight: Tonight) -> Finding:
    """Room where the archive grows and where answers are written."""
    places = [Path.cwd(), tonight.archive.path.parent]
    free = {str(place): shutil.disk_usage(place).free for place in map(_there, places)}
    place, least = min(free.items(), key=lambda item: item[1])
    state: State = "bad" if least < NO_BYTES else "good"
    state = "caution" if NO_BYTES <= least < LITTLE_BYTES else state
    return Finding(
        subject="disk",
        state=state,
        text=f"{_size(least)} free in {place}",
        todo="" if state == "good" else "make room, or passes elements forget",
        values={"free_bytes": least},
    )


def _there(place: Path) -> Path:
    """The nearest folder that exists."""
    return next((one for one in (place, *place.parents) if one.is_dir()), Path("/"))


def _size(size: int) -> str:
    gib = size / 2**30
    return f"{gib:,.0f} GiB" if gib >= 10 else f"{size / 2**20:,.0f} MiB"


def clock(tonight: Tonight, compared: ticking.Compared | PassesError | None) -> Finding:
    """Whether the computer knows the time, by a receiver or by the system."""
    if isinstance(compared, PassesError):
        return Finding(subject="clock", state="bad", text=str(compared))
    arrival, now = tonight.held.last_arrival, tonight.forecast.clock()
    if arrival is not None and arrival - now > _BACKWARDS:
        return Finding(
            subject="clock",
            state="bad",
            text=f"it says {now:%F %H:%M} UTC, but elements were added at "
            f"{arrival:%F %H:%M}",
            todo="set the clock",
        )
    if compared is not None:
        return _by_receiver(compared)
    told = ticking.synchronised()
    words = {
        True: "the system says it is synchronised",
        None: "not known",
        False: ("the system says it is not synchronised"),
    }
    states: dict[bool | None, State] = {True: "good", None: "unknown", False: "caution"}
    return Finding(
        subject="clock",
        state=states[told],
        text=words[told],
        todo="" if told else "compare it: passes check --nmea FILE, of a receiver",
        values={"synchronised": told},
    )


def _by_receiver(compared: ticking.Compared) -> Finding:
    """The usual lateness of the line is inside what is allowed."""
    early, late = ticking.LINE_LATE_S
    off = compared.offset_s
    good = early - CLOCK_OFF_S <= off <= late + CLOCK_OFF_S
    spread = "" if isnan(compared.spread_s) else f" ±{compared.spread_s:.2f} s"
    source = "" if compared.live else ", by a recording"
    text = (
        f"computer minus receiver {off:+.2f} s{spread}{source}; a plain serial line "
        f"alone gives {early:+.1f} to {late:+.1f} s"
    )
    return Finding(
        subject="clock",
        state="good" if good else "bad",
        text=text,
        todo="" if good else "set the clock",
        values={
            "offset_s": off,
            "spread_s": compared.spread_s,
            "seconds_compared": compared.seconds,
            "live": compared.live,
        },
    )
