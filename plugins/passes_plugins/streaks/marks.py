"""What each crossing leaves in each sub it may touch, and what that means."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache
from math import nan
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from passes import sensor, trail
from passes.model import Crossing, FieldPoint, Sub
from passes.objects import read_size_file, size_in
from passes_plugins.streaks.belonging import Pairs
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.exposing import Exposures
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.looks import Stays

Floats = NDArray[np.float64]

#: From harmless to hopeless; ``unknown`` where there is no magnitude or no rig.
Verdict = Literal["clean", "unknown", "faint", "removable", "spoiled"]
VERDICTS: tuple[Verdict, ...] = ("clean", "unknown", "faint", "removable", "spoiled")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One crossing in one sub; nan is unknown, and so is all light of the unlit.

    ``here`` says that this is a sub the crossing most likely belongs to.  The peak is
    a pixel's on the trail's middle line, over the noise of sky, dark current and
    read-out; ``percent`` is of the frame's pixels where the trail stands above that
    noise.
    """

    crossing: Crossing
    chance: float
    here: bool
    length_px: float = nan
    width_arcsec: float = nan
    effective_magnitude: float = nan
    surface_mag_arcsec2: float = nan
    signal_to_noise: float = nan
    saturated: bool = False
    percent: float = nan
    size_known: bool = False
    verdict: Verdict | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Trails:
    """The light of pairs, ``(k,)`` each."""

    length_px: Floats
    width_arcsec: Floats
    effective_magnitude: Floats
    surface_mag: Floats
    signal_to_noise: Floats
    saturated: NDArray[np.bool_]
    percent: Floats


def trails_of(
    sub: NDArray[np.int64],
    crossings: Sequence[Crossing],
    dwell_s: Floats,
    exposures: Exposures,
    sizes_m: Floats,
    frame_px: tuple[int, int],
) -> Trails:
    """The light of crossings ``(k,)`` in subs ``(k,)`` of one frame size."""
    lit = np.array([c.sunlit for c in crossings], dtype=bool)
    magnitude = np.where(lit, [c.magnitude for c in crossings], nan)
    rate = np.array([c.angular_rate_deg_s for c in crossings]) * 3600.0
    scale, time_s = exposures.scale_arcsec[sub], exposures.exposure_s[sub]
    width = trail.width_arcsec(
        exposures.star_arcsec[sub],
        exposures.aperture_mm[sub],
        sizes_m,
        np.array([c.range_km for c in crossings]),
    )
    signal = exposures.flow_e_s[sub] * 10.0 ** (-0.4 * magnitude)
    peak = trail.peak_electrons(signal, rate, dwell_s, width, scale)
    ratio = peak / exposures.noise_e[sub]
    full = peak + exposures.sky_e_s[sub] * time_s >= exposures.full_well_e[sub]
    length_px = rate * dwell_s / scale
    marked_px = trail.marked_width_arcsec(width, ratio) / scale
    return Trails(
        length_px=length_px,
        width_arcsec=width,
        effective_magnitude=sensor.moving_magnitude(magnitude, rate, time_s, width),
        surface_mag=sensor.trail_mag_arcsec2(magnitude, rate, time_s, width),
        signal_to_noise=ratio,
        saturated=full,
        percent=trail.percent_of_frame(length_px, marked_px, frame_px),
    )


def verdicts_of(
    ratio: Floats,
    saturated: NDArray[np.bool_],
    percent: Floats,
    like: NDArray[np.int64],
    lit: NDArray[np.bool_],
    choices: Choices,
) -> list[Verdict | None]:
    """What survives the stack, pair by pair; None for what is in the shadow."""
    bad = saturated | (like < choices.least_subs) | (percent > choices.spoiled_percent)
    words = np.select(
        [
            ~lit,
            np.isnan(ratio),
            ratio < choices.clean_below,
            ~saturated & (ratio < choices.removable_from),
            bad,
        ],
        ["", "unknown", "clean", "faint", "spoiled"],
        "removable",
    )
    return [word or None for word in words.tolist()]


def sizes_of(crossings: Sequence[Crossing], choices: Choices) -> Floats:
    """Lengths of the objects in metres, ``(m,)``; nan where no table has them."""
    table = choices.sizes
    return np.array([_length_m(table, c.catalog_number, c.name) for c in crossings])


@lru_cache(maxsize=100_000)
def _length_m(table: str, number: int, name: str) -> float:
    size = size_in(read_size_file(table), number, name)
    return nan if size is None else size.length_m


@dataclass(frozen=True, slots=True, eq=False)
class Lit:
    """What is needed to light the trails of one frame: ``rows`` of its subs."""

    exposures: Exposures
    rows: NDArray[np.int64]
    frame: Frame
    choices: Choices


def marks_of(
    pairs: Pairs,
    subs: Sequence[Sub],
    crossings: Sequence[Crossing],
    stays: Stays,
    origin: datetime,
    lit: Lit,
) -> Iterator[tuple[int, Mark]]:
    """Marks with the index of their sub; ``pairs`` count in ``subs`` and ``stays``.

    ``crossings`` are those of the stays, one each.
    """
    if not pairs.sub.size:
        return
    sizes = sizes_of(crossings, lit.choices)[pairs.stay]
    dwell = _dwell(pairs, subs, stays, origin)
    light, words = _lit([crossings[i] for i in pairs.stay], pairs, dwell, sizes, lit)
    made = {
        stay: _in_frame(crossings[stay], stays, stay, origin)
        for stay in dict.fromkeys(pairs.stay.tolist())
    }
    for k, sub in enumerate(pairs.sub.tolist()):
        crossing = made[int(pairs.stay[k])]
        known = not np.isnan(sizes[k])
        yield subs[sub].index, _mark(crossing, pairs, light, k, known, words[k])


def _lit(
    paired: Sequence[Crossing], pairs: Pairs, dwell_s: Floats, sizes_m: Floats, lit: Lit
) -> tuple[Trails, list[Verdict | None]]:
    """The light of each pair, and what it means."""
    row = lit.rows[pairs.sub]
    sizes, frame_px = np.nan_to_num(sizes_m), lit.frame.size_px
    light = trails_of(row, paired, dwell_s, lit.exposures, sizes, frame_px)
    words = verdicts_of(
        light.signal_to_noise,
        light.saturated,
        light.percent,
        lit.exposures.like[row],
        np.array([one.sunlit for one in paired], dtype=bool),
        lit.choices,
    )
    return light, words


def _mark(
    crossing: Crossing,
    pairs: Pairs,
    light: Trails,
    k: int,
    size_known: bool,
    verdict: Verdict | None,
) -> Mark:
    """One pair as a record."""
    return Mark(
        crossing=crossing,
        chance=float(pairs.chance[k]),
        here=bool(pairs.here[k]),
        length_px=float(light.length_px[k]),
        width_arcsec=float(light.width_arcsec[k]),
        effective_magnitude=float(light.effective_magnitude[k]),
        surface_mag_arcsec2=float(light.surface_mag[k]),
        signal_to_noise=float(light.signal_to_noise[k]),
        saturated=bool(light.saturated[k]),
        percent=float(light.percent[k]),
        size_known=size_known,
        verdict=verdict,
    )


def _dwell(pairs: Pairs, subs: Sequence[Sub], stays: Stays, origin: datetime) -> Floats:
    """How long the object is in the frame of the open shutter, ``(k,)`` seconds.

    As predicted; where it is predicted outside, as if it came while the shutter is
    open.
    """
    opens = np.array([(sub.start - origin).total_seconds() for sub in subs])[pairs.sub]
    closes = opens + np.array([sub.exposure_s for sub in subs])[pairs.sub]
    entry, leave = stays.entry_s[pairs.stay], stays.exit_s[pairs.stay]
    overlap = np.minimum(closes, leave) - np.maximum(opens, entry)
    whole = np.minimum(leave - entry, closes - opens)
    return np.asarray(np.where(overlap > 0.0, overlap, whole))


def _in_frame(
    crossing: Crossing, stays: Stays, stay: int, origin: datetime
) -> Crossing:
    """The crossing with entry and exit as this frame has them, pixels included.

    One that is predicted to pass beside the frame is flagged; its ends are then those
    of a frame as much wider as its error reaches.
    """

    def point(end: int, second: float) -> FieldPoint:
        return FieldPoint(
            time=origin + timedelta(seconds=second),
            ra_deg=float(stays.places[stay, end, 0]),
            dec_deg=float(stays.places[stay, end, 1]),
            x_px=float(stays.pixels[stay, end, 0]),
            y_px=float(stays.pixels[stay, end, 1]),
        )

    past = ("beside_frame",) if stays.beside[stay] else ()
    return replace(
        crossing,
        entry=point(0, float(stays.entry_s[stay])),
        exit=point(1, float(stays.exit_s[stay])),
        flags=(*crossing.flags, *past),
    )
