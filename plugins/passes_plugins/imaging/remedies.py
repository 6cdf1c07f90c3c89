"""What else could be set: glints kept, pixels binned, an extender out, another filter.

Each is worked out by the same rule as the settings themselves.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import isnan
from typing import TYPE_CHECKING

from passes_plugins.imaging.bench import Bench, bench_of, binned
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.light import subject_light
from passes_plugins.imaging.shot import Shot, shoot
from passes_plugins.imaging.transit import disc_of

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case

#: Below this a frame alone shows less than it might (common practice).
_SHORT_SNR = 15.0
#: Software bins so many pixels each way where the camera has no mode for it.
_AFTERWARDS = 2


@dataclass(frozen=True, slots=True)
class Option:
    """Another way to set the rig; ``kind`` is one word for it, ``what`` says it."""

    kind: str
    what: str
    shot: Shot


def options(case: Case) -> tuple[Option, ...]:
    """What the rig offers besides; nothing where the light is unknown."""
    shot = case.shot
    if shot is None or isnan(shot.snr):
        return ()
    return (
        *_glints(case, shot),
        *_binned(case),
        *_unextended(case),
        *_filters(case),
        *_following(case, shot),
    )


def _shot(case: Case, bench: Bench, choices: Choices, way: str) -> Shot:
    disc = disc_of(case.briefing.subject)
    light = subject_light(case.scene, bench, choices, way, case.best, disc)
    return shoot(bench, choices, light)


def _glints(case: Case, shot: Shot) -> Iterator[Option]:
    """Settings that keep the glints; none where these do, or where nothing does."""
    choices = replace(case.choices, keep_glints=True)
    if shot.keeps(choices.glint_mag) or disc_of(case.briefing.subject) is not None:
        return
    kept = _shot(case, case.bench, choices, shot.way)
    if kept.keeps(choices.glint_mag):
        yield Option("glints", f"glints {choices.glint_mag:g} mag brighter kept", kept)


def _binned(case: Case) -> Iterator[Option]:
    """The camera's own binned modes, else pixels added afterwards."""
    bench = case.bench
    modes = [mode for mode in bench.rig.modes if mode.binning > 1]
    for mode in modes:
        made = binned(bench, mode.binning, mode)
        yield Option(
            "binning", f"mode “{mode.name}”", _shot(case, made, case.choices, case.way)
        )
    if not modes:
        made, n = binned(bench, _AFTERWARDS, None), _AFTERWARDS
        shot = _shot(case, made, case.choices, case.way)
        yield Option("binning", f"{n} × {n} pixels added afterwards", shot)


def _unextended(case: Case) -> Iterator[Option]:
    rig = case.bench.rig
    if rig.extender > 1.0:
        made = bench_of(replace(rig, extender=1.0), case.choices)
        yield Option(
            "extender",
            f"without the {rig.extender:g}× extender",
            _shot(case, made, case.choices, case.way),
        )


def _filters(case: Case) -> Iterator[Option]:
    """The rig's other filters."""
    rig = case.bench.rig
    for band in rig.filters[1:]:
        made = bench_of(replace(rig, filters=(band,)), case.choices)
        yield Option(
            "filter",
            f"filter {band.name}",
            _shot(case, made, case.choices, case.way),
        )


def _following(case: Case, shot: Shot) -> Iterator[Option]:
    """A mount that follows, where the rig's own can and does not."""
    found, carrier = case.following, case.bench.rig.mount
    able = carrier.follows_satellites and not isnan(carrier.tracking_error_arcsec)
    if shot.way != "follow" and able and found is not None and found.stretch:
        made = _shot(case, case.bench, case.choices, "follow")
        yield Option("mount", "the mount following", made)


def helpful(case: Case, found: tuple[Option, ...]) -> list[Option]:
    """Those that mend what is wrong: too little signal, or wells overfilled."""
    shot = case.shot
    if shot is None or isnan(shot.snr):
        return []
    if shot.fill > case.choices.fullest:
        return [o for o in found if o.shot.fill < shot.fill and o.kind != "mount"]
    if shot.snr < _SHORT_SNR:
        return [o for o in found if o.shot.snr > 1.2 * shot.snr]
    return []
