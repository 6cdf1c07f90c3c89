"""The passes of the coming week that are worth preparing for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import hypot, isnan, nan
from typing import TYPE_CHECKING, Any

import numpy as np

from passes import atmosphere, objects, optics, skylight
from passes.model import Brightest, Moment, Passage, Rig, Site, Span
from passes_plugins.imaging.bench import Bench, bench_of
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.dimensions import size_for

if TYPE_CHECKING:
    from passes.contributions import Services

_DAYS = 7
_SHOWN = 12
#: Lower than this a long rig sees mostly air (common practice).
LONG_RIG_DEG = 40.0
_WIDE_RIG_DEG = 20.0
#: Unless objects are named, those known to be longer than this, m, and stations.
_LARGE_M = 30.0
#: A trail fainter than this is not worth a landscape (common practice).
_FAINTEST_TRAIL_MAG = 4.0
#: The reason that calls for a caution below the list.
BY_DAY = "in daylight"
_BRIGHT, _FRESH_DAYS = 0.7, 3.0
#: Steps in which times are told, s.
_STEPS_S = (1.0, 10.0, 60.0, 300.0, 600.0, 1800.0, 3600.0)


@dataclass(frozen=True, slots=True)
class Ranked:
    """One pass: its best lit moment, what it shows, and why it stands where it does."""

    passage: Passage
    moment: Moment
    rig: str
    worth: float
    size_arcsec: float
    size_px: float
    elements: float
    magnitude: float
    reasons: tuple[str, ...]

    @property
    def step_s(self) -> float:
        """The step to which its time is told: no finer than its 95 % bound."""
        bound = self.passage.timing_bound_s
        if isnan(bound):
            return _STEPS_S[-1]
        return next((step for step in _STEPS_S if step >= bound), _STEPS_S[-1])

    @property
    def time(self) -> datetime:
        """Its best moment, in whole steps."""
        midnight = self.moment.time.replace(hour=0, minute=0, second=0, microsecond=0)
        step = timedelta(seconds=self.step_s)
        return midnight + round((self.moment.time - midnight) / step) * step


@dataclass(frozen=True, slots=True)
class Ranking:
    """The best of a week for some rigs, and how much was looked at."""

    window: Span
    rows: tuple[Ranked, ...]
    passes: int
    searched: int
    lowest_deg: float


def best_moment(passage: Passage) -> Moment | None:
    """Where a pass shows most: the brightest lit moment, else the highest."""
    return passage.brightest or passage.culmination


def resolved(passage: Passage, rig: Rig, site: Site, choices: Choices) -> float:
    """Resolution elements along the object at its best; by range where size is unknown.

    Passes that are never lit come last.
    """
    moment = best_moment(passage)
    if moment is None:
        return -1.0
    size = size_for(passage.catalog_number, passage.name, choices)
    length = size.length_m if size else 1.0
    arcsec = float(optics.size_arcsec(length, moment.range_km))
    elements = arcsec / _blur_arcsec(rig, site, moment)
    return elements if passage.brightest is not None else 1e-6 * elements


def _blur_arcsec(rig: Rig, site: Site, moment: Moment) -> float:
    bench = bench_of(rig, Choices())
    zenith = 2.0 if isnan(site.seeing_arcsec) else site.seeing_arcsec
    path = float(atmosphere.airmass(np.radians(max(moment.altitude_deg, 1.0))))
    seeing = float(optics.seeing_arcsec(zenith, path))
    diffraction = 0.0 if isnan(bench.diffraction_arcsec) else bench.diffraction_arcsec
    return max(hypot(seeing, diffraction), 2.0 * bench.scale_arcsec)


def rank(services: Services, rigs: Sequence[Rig], settings: dict[str, Any]) -> Ranking:
    """The week from the window's start, ranked for the rigs."""
    choices = Choices.of(settings)
    start = services.window.start
    window = Span(start=start, end=start + timedelta(days=_DAYS))
    names = _wanted(services, window, choices)
    lowest = _lowest_deg(rigs)
    if not names:
        return Ranking(window, (), 0, 0, lowest)
    found = list(services.passes(window=window, objects=names))
    rows = [_ranked(p, rig, services.site, choices) for p in found for rig in rigs]
    good = [r for r in rows if r is not None and r.moment.altitude_deg >= lowest]
    good.sort(key=lambda row: -row.worth)
    return Ranking(window, tuple(good[:_SHOWN]), len(found), len(names), lowest)


def _lowest_deg(rigs: Sequence[Rig]) -> float:
    """How high a pass must get: what was typed, else more for a long rig."""
    import click

    context = click.get_current_context(silent=True)
    if context is not None:
        source = context.get_parameter_source("min_altitude_deg")
        if source is click.core.ParameterSource.COMMANDLINE:
            return float(context.params["min_altitude_deg"])
    wide = all(bench_of(rig, Choices()).wide for rig in rigs)
    return _WIDE_RIG_DEG if wide else LONG_RIG_DEG


def _wanted(services: Services, window: Span, choices: Choices) -> list[str]:
    """The objects named, else stations and what is known to be large."""
    catalogue = services.catalogue(window)
    numbers, names = catalogue.catalog_number, catalogue.name
    import click

    context = click.get_current_context(silent=True)
    if context is not None and context.params.get("objects"):
        return [str(n) for n in numbers]
    wanted = objects.larger_than(numbers.tolist(), names, _LARGE_M)
    wanted |= objects.is_station(numbers.tolist(), names)
    if choices.sizes:
        own = [
            size_for(int(n), name, choices)
            for n, name in zip(numbers, names, strict=True)
        ]
        wanted |= np.array([s is not None and s.length_m > _LARGE_M for s in own], bool)
    return [str(number) for number in numbers[wanted]]


def _ranked(passage: Passage, rig: Rig, site: Site, choices: Choices) -> Ranked | None:
    """A pass for a rig; None where it is never lit, or a trail that nobody sees."""
    moment = passage.brightest
    bench = bench_of(rig, choices)
    if moment is None or (bench.wide and not passage.visible):
        return None
    size = size_for(passage.catalog_number, passage.name, choices)
    length_m = size.length_m if size else nan
    arcsec = float(optics.size_arcsec(length_m, moment.range_km))
    elements = resolved(passage, rig, site, choices)
    reach, dark = _reach(rig, moment), _contrast(passage, site)
    worth, first = _worth(bench, moment, elements if size else nan)
    if isnan(worth):
        worth = elements
    return Ranked(
        passage=passage,
        moment=moment,
        rig=rig.name,
        worth=worth * dark * (1.0 if bench.wide else reach),
        size_arcsec=arcsec,
        size_px=arcsec / bench.scale_arcsec,
        elements=elements,
        magnitude=moment.magnitude,
        reasons=(first, *_reasons(passage, moment, reach, dark)),
    )


def _worth(bench: Bench, moment: Brightest, elements: float) -> tuple[float, str]:
    """What it is worth before sky and mount, nan where its size is unknown; and why."""
    if bench.wide:
        brighter = max(_FAINTEST_TRAIL_MAG - moment.magnitude, 0.0)
        return brighter, f"magnitude {moment.magnitude:.1f}, seen by eye"
    if isnan(elements):
        return nan, "size unknown"
    return elements, f"{elements:.0f} resolved elements"


def _contrast(passage: Passage, site: Site) -> float:
    """1 on a dark sky, less as twilight or day brightens it: by the Sun's height."""
    if isnan(passage.sun_altitude_deg):
        return 1.0
    sky = float(skylight.twilight_mag_arcsec2(np.radians(passage.sun_altitude_deg)))
    return float(np.clip((sky - 3.0) / 13.0, 0.2, 1.0))


def _reach(rig: Rig, moment: Moment) -> float:
    """1 where the azimuth axis keeps up at the best moment, less where it cannot."""
    carrier = rig.mount
    limit = carrier.rate_limits_deg_s[0]
    rate = getattr(moment, "angular_rate_deg_s", nan)
    if carrier.kind != "alt-azimuth" or isnan(limit) or isnan(rate):
        return 1.0
    fastest = rate / max(np.cos(np.radians(moment.altitude_deg)), 1e-6)
    return 1.0 if fastest <= limit else 0.6


def _reasons(passage: Passage, moment: Moment, reach: float, dark: float) -> list[str]:
    """What else speaks for a pass or against it."""
    told = [f"{moment.altitude_deg:.0f}° high at {moment.range_km:.0f} km"]
    if passage.sun_altitude_deg > 0.0:
        told.append(BY_DAY)
    elif dark < _BRIGHT:
        told.append("bright sky")
    if reach < 1.0:
        told.append("too fast for the azimuth axis near the zenith")
    if passage.element_age_days > _FRESH_DAYS:
        told.append("fresh elements needed nearer the day")
    return told
