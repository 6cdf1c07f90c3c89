"""What the observer brings: optics, camera, mount."""

from dataclasses import dataclass, field
from math import atan, degrees, inf, isnan, nan
from typing import Literal

from passes.model._frozen import hold_tuples, within


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """One setting of a camera's amplifier."""

    name: str
    electrons_per_adu: float
    read_noise_e: float
    full_well_e: float
    bit_depth: int = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """A filter: band centre and width in nanometres, peak transmission 0 to 1."""

    name: str
    centre_nm: float
    width_nm: float
    peak: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class VideoMode:
    """One way to read the sensor out fast; nan is unknown.

    A mode with ``binning`` adds so many pixels each way into one; its width and height
    count what is left.
    """

    name: str
    width_px: int
    height_px: int
    frame_rate_hz: float = nan
    line_time_us: float = nan
    shutter: Literal["rolling", "global", "unknown"] = "unknown"
    shortest_exposure_s: float = nan
    bytes_per_px: float = nan
    binning: int = 1

    def __post_init__(self) -> None:
        within(self.binning, 1, 16, f"mode {self.name}: binning", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mount:
    """What carries the camera and how well.

    Axis limits are a pair: azimuth (or hour angle), altitude (or declination).
    ``pointing_error_arcmin`` is what remains after a sync on a star; shake is an
    amplitude in arcseconds at a frequency in hertz (common practice for defaults).
    """

    kind: Literal["fixed", "alt-azimuth", "equatorial"] = "fixed"
    rate_limits_deg_s: tuple[float, float] = (nan, nan)
    acceleration_limits_deg_s2: tuple[float, float] = (nan, nan)
    follows_satellites: bool = False
    tracking_error_arcsec: float = nan
    pointing_error_arcmin: float = 5.0
    shake_arcsec: float = nan
    shake_hz: float = nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """A telescope or lens with its camera and mount; nan is unknown.

    A lens may state its ``focal_ratio`` in place of an aperture.  ``extender``
    multiplies the focal length.  ``obstruction`` is the diameter of
    the central obstruction as a fraction of the aperture.  ``rotation_deg`` is the
    position angle of the frame's up direction (north through east).
    ``offset_arcmin`` is this rig's axis relative to the platform's main
    instrument, (right, up) in the main instrument's frame.  ``power_w`` is what camera,
    computer, mount and heaters draw together, ``battery_wh`` what their supply holds.
    """

    name: str
    focal_length_mm: float
    pixel_um: float
    width_px: int
    height_px: int
    aperture_mm: float = nan
    obstruction: float = 0.0
    extender: float = 1.0
    quantum_efficiency: float = nan
    colour: bool = False
    rotation_deg: float = 0.0
    gains: tuple[Gain, ...] = ()
    filters: tuple[Filter, ...] = ()
    modes: tuple[VideoMode, ...] = ()
    link_mb_s: float = nan
    write_mb_s: float = nan
    buffer_mb: float = nan
    free_gb: float = nan
    power_w: float = nan
    battery_wh: float = nan
    mount: Mount = field(default_factory=Mount)
    offset_arcmin: tuple[float, float] = (0.0, 0.0)
    focal_ratio: float = nan

    def __post_init__(self) -> None:
        within(
            self.focal_length_mm,
            1.0,
            100_000.0,
            f"rig {self.name}: focal length",
            " mm",
        )
        within(self.pixel_um, 0.1, 1000.0, f"rig {self.name}: pixel", " µm")
        within(self.width_px, 1, 200_000, f"rig {self.name}: width", " px")
        within(self.height_px, 1, 200_000, f"rig {self.name}: height", " px")
        within(self.obstruction, 0.0, 0.95, f"rig {self.name}: obstruction", "")
        within(self.extender, 0.05, 20.0, f"rig {self.name}: extender", "")
        if not isnan(self.focal_ratio):
            within(self.focal_ratio, 0.3, 500.0, f"rig {self.name}: f-number", "")
            if isnan(self.aperture_mm):
                aperture_mm = self.focal_length_mm / self.focal_ratio
                object.__setattr__(self, "aperture_mm", aperture_mm)
        if not isnan(self.aperture_mm):
            within(self.aperture_mm, 0.5, 20_000.0, f"rig {self.name}: aperture", " mm")
        if not isnan(self.quantum_efficiency):
            within(self.quantum_efficiency, 1e-4, 1.0, f"rig {self.name}: qe", "")
        for what, value in (("power", self.power_w), ("battery", self.battery_wh)):
            if not isnan(value):
                within(value, 0.0, 1e6, f"rig {self.name}: {what}", "")
        hold_tuples(self, "gains", "filters", "modes")

    @property
    def effective_focal_length_mm(self) -> float:
        """Focal length with the extender in place."""
        return self.focal_length_mm * self.extender

    @property
    def f_number(self) -> float:
        """Effective focal ratio; nan without an aperture."""
        return self.effective_focal_length_mm / (self.aperture_mm or inf)

    @property
    def scale_arcsec_px(self) -> float:
        """Angle that one pixel covers at the centre of the frame."""
        return 206.264806 * self.pixel_um / self.effective_focal_length_mm

    @property
    def field_deg(self) -> tuple[float, float]:
        """Width and height of the field of a lens that maps straight lines straight."""
        half = self.pixel_um / 2000.0 / self.effective_focal_length_mm
        return (
            2 * degrees(atan(self.width_px * half)),
            2 * degrees(atan(self.height_px * half)),
        )
