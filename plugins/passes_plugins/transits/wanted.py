"""What is asked for, and until when it is worth asking."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import asin, degrees, isfinite, nan
from typing import TYPE_CHECKING

from passes.constants import EARTH_MU_KM3_S2, EARTH_RADIUS_KM
from passes.errors import InputError, NothingToSearch, PassesError
from passes.model import Note, Span
from passes_plugins.transits.area import Area
from passes_plugins.transits.outlook import Outlook, outlooks
from passes_plugins.transits.sizing import Sizes

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.elements import Catalogue

#: Objects longer than this are searched beside stations, metres.
LARGE_M = 30.0
#: Elements further away are not used (days); what is searched of elements too old.
_LONGEST_DAYS, _ANYWAY_DAYS = 30.0, 14.0
#: Longest window for a search of everything, days.
_NIGHT_DAYS = 1.5
#: No wider field is searched around a body; what is added to be sure, degrees.
_WIDEST_DEG, _ROOM_DEG = 88.0, 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The choices of one search; nan and None are not asked for.

    ``whole_window`` takes the services' window as it stands; else the search goes from
    now to ``until``, or as far as the elements deserve.
    """

    bodies: tuple[str, ...] = ("moon", "sun")
    everything: bool = False
    named: bool = False
    min_altitude_deg: float = 20.0
    within_deg: float = nan
    reach_km: float = nan
    area: Area | None = None
    height_m: float = nan
    until: datetime | None = None
    whole_window: bool = False
    anyway: bool = False

    @property
    def strips(self) -> bool:
        """Whether strips on the ground are wanted."""
        return isfinite(self.reach_km)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """What is searched: objects by number (None is all), the window, remarks."""

    window: Span
    numbers: tuple[str, ...] | None
    catalogue: Catalogue
    outlooks: tuple[Outlook, ...]
    notes: tuple[Note, ...]


def scope(services: Services, wanted: Wanted) -> Scope:
    """Settle objects and window; errors say in one line why there is nothing."""
    now = services.clock()
    if wanted.everything:
        return _everything(services, wanted)
    first = services.window if wanted.whole_window else _days(now, 1.0)
    catalogue = services.catalogue(first)
    if not len(catalogue):
        raise _none_usable(catalogue)
    if not wanted.named:
        catalogue = _large(services, catalogue)
    known = outlooks(services, catalogue)
    kept, notes = _fresh(known, first.start, wanted)
    numbers = tuple(str(one.catalog_number) for one in kept)
    window = first if wanted.whole_window else _window(now, kept, wanted)
    chosen = services.catalogue(window, numbers)
    if not len(chosen):
        raise _none_usable(chosen)
    return Scope(
        window=window, numbers=numbers, catalogue=chosen, outlooks=kept, notes=notes
    )


def _days(start: datetime, days: float) -> Span:
    return Span(start=start, end=start + timedelta(days=days))


def _none_usable(catalogue: Catalogue) -> PassesError:
    why = catalogue.skipped[0] if catalogue.skipped else None
    if why is None:
        return NothingToSearch("no usable element set for this window")
    many = len(catalogue.skipped)
    such = f"{many:,} left out, such as " if many > 1 else ""
    return NothingToSearch(
        f"no usable element set for this window ({such}"
        f"{why.name or why.catalog_number}: {why.reason}); "
        "passes elements fetch gets fresh ones"
    )


def _everything(services: Services, wanted: Wanted) -> Scope:
    window = services.window
    if wanted.until is not None:
        raise InputError("--all is for one night; leave out --until")
    if window.duration_s > _NIGHT_DAYS * 86_400.0:
        raise InputError("--all is for one night; choose it by --date")
    catalogue = services.catalogue(window)
    if not len(catalogue):
        raise _none_usable(catalogue)
    return Scope(
        window=window, numbers=None, catalogue=catalogue, outlooks=(), notes=()
    )


def _large(services: Services, catalogue: Catalogue) -> Catalogue:
    """Stations, and what is known to be longer than so many metres."""
    import numpy as np

    from passes import objects

    sizes = Sizes(services.settings)
    stations = objects.is_station(catalogue.catalog_number, catalogue.name)
    large = [
        bool(station) or sizes.larger_than(int(number), name, LARGE_M)
        for station, number, name in zip(
            stations, catalogue.catalog_number, catalogue.name, strict=True
        )
    ]
    if not any(large):
        raise NothingToSearch(
            f"none of {len(catalogue):,} objects is a station or known to be longer "
            f"than {LARGE_M:g} m; name one by --object, or take --all for one night"
        )
    return catalogue.take(np.array(large))


def _fresh(
    known: tuple[Outlook, ...], start: datetime, wanted: Wanted
) -> tuple[tuple[Outlook, ...], tuple[Note, ...]]:
    """Those whose elements still say something at the start, and who was left out."""
    fresh = tuple(one for one in known if one.until and one.until > start)
    if wanted.anyway:
        return known, ()
    if not fresh:
        raise PassesError(_too_old(known[0], start) + "; or add --anyway")
    old = [one for one in known if one not in fresh]
    return fresh, tuple(Note(text=_too_old(one, start)) for one in old)


def _too_old(one: Outlook, start: datetime) -> str:
    name = one.name or str(one.catalog_number)
    age = (start - one.epoch).total_seconds() / 86_400.0
    when = f"are {age:.1f} days old" if age >= 0.0 else "lie far ahead"
    return (
        f"the elements of {name} {when}: its line may be off by more than the strip "
        "is wide; fetch fresh ones"
    )


def _window(now: datetime, kept: tuple[Outlook, ...], wanted: Wanted) -> Span:
    """From now until asked, or as far as the elements of one object deserve."""
    last = now + timedelta(days=_LONGEST_DAYS)
    if wanted.until is not None:
        if wanted.until <= now:
            raise InputError(f"--until {wanted.until:%F %T}Z is past")
        return Span(start=now, end=wanted.until)
    deserved = [one.until for one in kept if one.until and one.until > now]
    if wanted.anyway or not deserved:
        deserved.append(now + timedelta(days=_ANYWAY_DAYS))
    return Span(start=now, end=min(max(deserved), last))


def field_deg(wanted: Wanted, catalogue: Catalogue) -> float:
    """Radius of the field to search around a body; nan is its own disc.

    Whoever stands ``reach`` from the centre line sees the object beside the body by no
    more than the angle under which it sees that reach.
    """
    if not wanted.strips:
        return wanted.within_deg
    motion_rad_s = catalogue.mean_motion_rad_min / 60.0
    axis_km = (EARTH_MU_KM3_S2 / motion_rad_s**2) ** (1.0 / 3.0)
    low_km = axis_km * (1.0 - catalogue.eccentricity) - EARTH_RADIUS_KM - 30.0
    share = wanted.reach_km / max(float(low_km.min()), 100.0)
    return min(degrees(asin(min(share, 1.0))) + _ROOM_DEG, _WIDEST_DEG)
