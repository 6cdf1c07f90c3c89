"""A rig as the sums need it: what is known of it, and what had to be assumed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot, isnan, nan

from passes import mount, optics, sensor
from passes.model import Filter, Gain, Rig, VideoMode
from passes_plugins.imaging.choices import Choices

#: A frame that shows more sky than this is a landscape's: the object leaves a trail.
WIDE_DEG = 12.0
#: A sensor without a filter (common practice, no source).
CLEAR = Filter(name="", centre_nm=550.0, width_nm=300.0, peak=1.0)
_QE, _GAIN = (
    0.6,
    Gain(name="", electrons_per_adu=1.0, read_noise_e=3.0, full_well_e=1e4),
)
#: Each pixel of a colour sensor sees one of three colours (common practice).
_COLOUR_SHARE = 1.0 / 3.0


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value the rig lacks: what stands in for it, how much the answer hangs on it."""

    what: str
    value: str
    effect: str


@dataclass(frozen=True, slots=True)
class Bench:
    """A rig and choices as numbers; nan where nothing can stand in."""

    rig: Rig
    scale_arcsec: float
    width_deg: float
    height_deg: float
    diffraction_arcsec: float
    area_m2: float
    filter: Filter
    efficiency: float
    gains: tuple[Gain, ...]
    mode: VideoMode | None
    assumed: tuple[Assumed, ...]

    @property
    def flow(self) -> tuple[float, float, float]:
        """Area (m²), band (nm) and efficiency, as :func:`.sensor.electrons_s` wants."""
        return self.area_m2, self.filter.width_nm, self.efficiency

    def noise_e(self, gain: Gain) -> float:
        """Noise of a dark pixel: reading, and counting in the mode's few steps."""
        each = self.mode.bytes_per_px if self.mode else nan
        bits = gain.bit_depth if isnan(each) else min(gain.bit_depth, 8.0 * each)
        return hypot(
            gain.read_noise_e,
            float(sensor.quantisation_noise_e(gain.full_well_e, bits)),
        )

    @property
    def wide(self) -> bool:
        """Whether the object's trail, not its shape, is the picture."""
        return self.width_deg > WIDE_DEG

    @property
    def allowed_arcsec(self) -> float:
        """Blur that cannot be seen."""
        return float(
            mount.allowed_blur_arcsec(self.scale_arcsec, self.diffraction_arcsec)
        )

    @property
    def region_px(self) -> tuple[int, int]:
        """Width and height of what is read out."""
        if self.mode is None:
            return self.rig.width_px, self.rig.height_px
        return self.mode.width_px, self.mode.height_px

    @property
    def frame_mb(self) -> float:
        """Size of a frame; two bytes a pixel where nothing better is known."""
        width, height = self.region_px
        each = self.mode.bytes_per_px if self.mode else nan
        return width * height * (2.0 if isnan(each) else each) / 1e6

    @property
    def shortest_s(self) -> float:
        """The camera's shortest exposure; nan is unknown."""
        return self.mode.shortest_exposure_s if self.mode else nan


def bench_of(rig: Rig, choices: Choices) -> Bench:
    """Work a rig out; everything missing is assumed and told."""
    band = rig.filters[0] if rig.filters else CLEAR
    qe = _QE if isnan(rig.quantum_efficiency) else rig.quantum_efficiency
    share = _COLOUR_SHARE if rig.colour else 1.0
    width_deg, height_deg = rig.field_deg
    return Bench(
        rig=rig,
        scale_arcsec=rig.scale_arcsec_px,
        width_deg=width_deg,
        height_deg=height_deg,
        diffraction_arcsec=float(
            optics.diffraction_width_arcsec(rig.aperture_mm, band.centre_nm)
        ),
        area_m2=float(sensor.collecting_area_m2(rig.aperture_mm, rig.obstruction)),
        filter=band,
        efficiency=qe * band.peak * choices.optics * share,
        gains=rig.gains or (_GAIN,),
        mode=_mode(rig),
        assumed=tuple(_lacking(rig)),
    )


def binned(bench: Bench, times: int, mode: VideoMode | None) -> Bench:
    """The same with so many pixels each way added into one, in the camera or after.

    A sum, as sensors of today make it: as many wells, as many readings (common
    practice, no source).
    """
    gains = tuple(
        replace(
            gain,
            read_noise_e=gain.read_noise_e * times,
            full_well_e=gain.full_well_e * times**2,
        )
        for gain in bench.gains
    )
    return replace(
        bench,
        scale_arcsec=bench.scale_arcsec * times,
        gains=gains,
        mode=mode or bench.mode,
    )


def _mode(rig: Rig) -> VideoMode | None:
    """The fastest mode that reads the widest part of the sensor, unbinned."""
    plain = [mode for mode in rig.modes if mode.binning == 1]
    if not plain:
        return None
    widest = max(mode.width_px * mode.height_px for mode in plain)
    whole = [m for m in plain if m.width_px * m.height_px == widest]
    return max(whole, key=lambda m: 0.0 if isnan(m.frame_rate_hz) else m.frame_rate_hz)


#: What a rig may lack, the weightiest first: what is assumed, what hangs on it.
_LACKS = {
    "aperture_mm": (
        "nothing",
        "light, gain and diffraction; only motion limits the shutter",
    ),
    "quantum_efficiency": (f"{_QE:g}", "the light, by a third"),
    "gains": (
        f"a well of {_GAIN.full_well_e:,.0f} e⁻, {_GAIN.read_noise_e:g} e⁻ of read "
        "noise",
        "which gain to set, and how full the well gets",
    ),
    "filters": ("400 to 700 nm", "the light by a fifth, and dispersion"),
    "modes": (
        "30 frames a second",
        "the chance of a waiting place; frame rate and skew stay open",
    ),
    "mount.shake": ("none", "the longest shutter, by half or more"),
    "mount.tracking_error_arcsec": (
        "that it does not follow",
        "the shutter, which is for a mount that stands still",
    ),
}


def _lacking(rig: Rig) -> Iterator[Assumed]:
    """Values that the rig lacks, the weightiest first."""
    carrier, dark = rig.mount, isnan(rig.aperture_mm)  # then no light is worked out
    lacks = {
        "aperture_mm": dark,
        "quantum_efficiency": isnan(rig.quantum_efficiency) and not dark,
        "gains": not rig.gains and not dark,
        "filters": not rig.filters,
        "modes": not any(mode.binning == 1 for mode in rig.modes),
        "mount.shake": isnan(carrier.shake_arcsec) or isnan(carrier.shake_hz),
        "mount.tracking_error_arcsec": carrier.follows_satellites
        and isnan(carrier.tracking_error_arcsec),
    }
    for what, (value, effect) in _LACKS.items():
        if lacks[what] and what == "modes" and not isnan(rig.link_mb_s):
            yield Assumed(what, "what the link passes", "frame rate and shutter skew")
        elif lacks[what]:
            yield Assumed(what, value, effect)
