"""What each sub collects: light, sky and noise of a pixel, through its own filter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, isnan, nan
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from passes import optics, sensor, trail
from passes.model import Filter, Gain, Rig, Site, Sub
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.frames import Frame, rig_of
from passes_plugins.streaks.surroundings import Surroundings

Floats = NDArray[np.float64]

#: Stand-ins for what a rig or a site does not state (common practice, no source).
_CLEAR = Filter(name="", centre_nm=550.0, width_nm=300.0, peak=1.0)
_GAIN = Gain(name="", electrons_per_adu=1.0, read_noise_e=3.0, full_well_e=3e4)
_QE, _SEEING_ARCSEC = 0.6, 2.5
#: Each pixel of a colour sensor sees one of three colours (common practice).
_COLOUR_SHARE = 1.0 / 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A rig with one filter and gain, as numbers; nan where light cannot be known."""

    area_m2: float
    aperture_mm: float
    width_nm: float
    centre_nm: float
    efficiency: float
    read_noise_e: float
    full_well_e: float
    assumed: tuple[str, ...] = ()


def camera_of(rig: Rig, filter_name: str, gain_name: str, choices: Choices) -> Camera:
    """What is known of a rig, and what had to be assumed."""
    assumed: list[str] = []
    band = _named(rig.filters, filter_name, _CLEAR, "filter", rig, assumed)
    gain = _named(rig.gains, gain_name, _GAIN, "gain", rig, assumed)
    qe = rig.quantum_efficiency
    if isnan(qe):
        qe = _QE
        assumed.append(f"rig {rig.name}: a quantum efficiency of {_QE:g}")
    if isnan(rig.aperture_mm):
        assumed.append(
            f"rig {rig.name}: no aperture is known, so no light; verdicts are unknown"
        )
    depth_e = (2.0**gain.bit_depth - 1.0) * gain.electrons_per_adu
    share = _COLOUR_SHARE if rig.colour else 1.0
    return Camera(
        area_m2=float(sensor.collecting_area_m2(rig.aperture_mm, rig.obstruction)),
        aperture_mm=rig.aperture_mm,
        width_nm=band.width_nm,
        centre_nm=band.centre_nm,
        efficiency=qe * band.peak * choices.optics * share,
        read_noise_e=gain.read_noise_e,
        full_well_e=min(gain.full_well_e, depth_e) if gain is not _GAIN else 3e4,
        assumed=tuple(assumed),
    )


_Part = TypeVar("_Part", Filter, Gain)


def _named(
    known: Sequence[_Part],
    name: str,
    spare: _Part,
    what: str,
    rig: Rig,
    assumed: list[str],
) -> _Part:
    """The part of that name, else the first, else the stand-in; says what was taken."""
    for one in known:
        if one.name.casefold() == name.strip().casefold():
            return one
    chosen = known[0] if known and not name else spare
    if chosen is spare and isinstance(spare, Filter):
        stand_in = "400 to 700 nm"
    elif chosen is spare:
        stand_in = "3 e⁻ of read noise and a well of 30,000 e⁻"
    else:
        stand_in = f"{what} {chosen.name!r}, its first"
    missing = f"{what} {name!r} is not known" if name else f"no {what} is named"
    assumed.append(f"rig {rig.name}: {missing}; {stand_in} taken")
    return chosen


@dataclass(frozen=True, slots=True, eq=False)
class Exposures:
    """Every sub as columns ``(n,)``; ``sky_e_s`` is a pixel's.

    ``like`` is how many subs share its target and filter; ``assumed`` what stood in
    for the unknown.
    """

    exposure_s: Floats
    scale_arcsec: Floats
    star_arcsec: Floats
    aperture_mm: Floats
    flow_e_s: Floats
    sky_e_s: Floats
    noise_e: Floats
    full_well_e: Floats
    like: NDArray[np.int64]
    assumed: tuple[str, ...]


def exposures_of(
    subs: Sequence[Sub],
    frames: Mapping[int, Frame],
    rigs: Mapping[str, Rig],
    site: Site,
    around: Surroundings,
    choices: Choices,
) -> Exposures:
    """Work out every sub; ``flow_e_s`` is what magnitude 0 would give a second."""
    cameras = _cameras(subs, rigs, choices)
    assumed = dict.fromkeys(text for one in cameras for text in one.assumed)
    zenith = site.seeing_arcsec
    if isnan(zenith):
        zenith = _SEEING_ARCSEC
        assumed[f"a seeing of {zenith:g}″"] = None
    columns = _columns(cameras)
    scale = _scales(subs, frames)
    exposure = np.array([sub.exposure_s for sub in subs])
    flow = (columns["area_m2"], columns["width_nm"], columns["efficiency"])
    sky_e_s = sensor.electrons_s(around.sky_mag_arcsec2, *flow) * scale**2
    return Exposures(
        exposure_s=exposure,
        scale_arcsec=scale,
        star_arcsec=_star_arcsec(zenith, around, columns),
        aperture_mm=np.nan_to_num(columns["aperture_mm"]),
        flow_e_s=sensor.electrons_s(0.0, *flow),
        sky_e_s=sky_e_s,
        noise_e=trail.pixel_noise_e(
            sky_e_s, exposure, choices.dark_e_s, columns["read_noise_e"]
        ),
        full_well_e=columns["full_well_e"],
        like=_like(subs),
        assumed=tuple(assumed),
    )


def _scales(subs: Sequence[Sub], frames: Mapping[int, Frame]) -> Floats:
    """Image scale of each sub, arcseconds a pixel; nan without a frame."""
    known = (frames.get(sub.index) for sub in subs)
    return np.array([nan if one is None else one.scale_arcsec_px for one in known])


def _cameras(
    subs: Sequence[Sub], rigs: Mapping[str, Rig], choices: Choices
) -> list[Camera]:
    """The camera of each sub; of an unknown rig nothing is known."""
    known: dict[tuple[str, str, str], Camera] = {}
    for sub in subs:
        key = sub.rig, sub.filter, sub.gain
        if key not in known:
            rig = rig_of(sub, rigs)
            known[key] = _NOTHING if rig is None else camera_of(rig, *key[1:], choices)
    return [known[sub.rig, sub.filter, sub.gain] for sub in subs]


def _columns(cameras: Sequence[Camera]) -> dict[str, Floats]:
    return {
        name: np.array([getattr(one, name) for one in cameras])
        for name in Camera.__annotations__
        if name != "assumed"
    }


def _star_arcsec(
    zenith_arcsec: float, around: Surroundings, columns: Mapping[str, Floats]
) -> Floats:
    """Width of a star's image: seeing at that altitude and colour, and diffraction."""
    spread = optics.diffraction_width_arcsec(
        columns["aperture_mm"], columns["centre_nm"]
    )
    seeing = optics.seeing_arcsec(zenith_arcsec, around.airmass, columns["centre_nm"])
    return np.asarray(np.hypot(seeing, np.nan_to_num(spread)))


_NOTHING = Camera(
    area_m2=nan,
    aperture_mm=nan,
    width_nm=nan,
    centre_nm=nan,
    efficiency=nan,
    read_noise_e=nan,
    full_well_e=inf,
)


def _like(subs: Sequence[Sub]) -> NDArray[np.int64]:
    """How many subs of one target and filter stand with each."""
    counts: dict[tuple[str, str], int] = {}
    keys = [(sub.target.name, sub.filter) for sub in subs]
    for key in keys:
        counts[key] = counts.get(key, 0) + 1
    return np.array([counts[key] for key in keys], dtype=np.int64)
