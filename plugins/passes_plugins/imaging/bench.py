"""A rig as the sums need it: what is known of it, and what had to be assumed."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, nan

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
    focal = rig.effective_focal_length_mm
    band = rig.filters[0] if rig.filters else CLEAR
    lacking = tuple(_lacking(rig))
    qe = _QE if isnan(rig.quantum_efficiency) else rig.quantum_efficiency
    share = _COLOUR_SHARE if rig.colour else 1.0
    fields = [
        57.29577951308232 * float(optics.field_rad(n, rig.pixel_um, focal))
        for n in (rig.width_px, rig.height_px)
    ]
    return Bench(
        rig=rig,
        scale_arcsec=rig.scale_arcsec_px,
        width_deg=fields[0],
        height_deg=fields[1],
        diffraction_arcsec=float(
            optics.diffraction_width_arcsec(rig.aperture_mm, band.centre_nm)
        ),
        area_m2=float(sensor.collecting_area_m2(rig.aperture_mm, rig.obstruction)),
        filter=band,
        efficiency=qe * band.peak * choices.optics * share,
        gains=rig.gains or (_GAIN,),
        mode=_mode(rig),
        assumed=lacking,
    )


def _mode(rig: Rig) -> VideoMode | None:
    """The fastest mode that reads the widest part of the sensor."""
    if not rig.modes:
        return None
    widest = max(mode.width_px * mode.height_px for mode in rig.modes)
    whole = [m for m in rig.modes if m.width_px * m.height_px == widest]
    return max(whole, key=lambda m: 0.0 if isnan(m.frame_rate_hz) else m.frame_rate_hz)


def _lacking(rig: Rig) -> list[Assumed]:
    """Values that the rig lacks, the weightiest first."""
    found = []
    if isnan(rig.aperture_mm):
        found.append(
            Assumed(
                "aperture_mm",
                "nothing",
                "light, gain and diffraction; only motion limits the shutter",
            )
        )
    if isnan(rig.quantum_efficiency):
        found.append(Assumed("quantum_efficiency", f"{_QE:g}", "the light, by a third"))
    if not rig.gains:
        found.append(
            Assumed(
                "gains",
                f"a well of {_GAIN.full_well_e:,.0f} e⁻, "
                f"{_GAIN.read_noise_e:g} e⁻ of read noise",
                "which gain to set, and how full the well gets",
            )
        )
    if not rig.filters:
        found.append(
            Assumed("filters", "400 to 700 nm", "the light by a fifth, and dispersion")
        )
    if not rig.modes:
        found.append(Assumed("modes", "nothing", "frame rate and shutter skew"))
    found += _lacking_in_mount(rig)
    return found


def _lacking_in_mount(rig: Rig) -> list[Assumed]:
    found = []
    carrier = rig.mount
    if isnan(carrier.shake_arcsec) or isnan(carrier.shake_hz):
        found.append(
            Assumed("mount.shake", "none", "the longest shutter, by half or more")
        )
    if carrier.follows_satellites and isnan(carrier.tracking_error_arcsec):
        found.append(
            Assumed(
                "mount.tracking_error_arcsec",
                "that it does not follow",
                "the shutter, which is for a mount that stands still",
            )
        )
    return found
