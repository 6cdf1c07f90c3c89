"""What carries the camera: what its axes reach, what it blurs, where it may wait.

numpy only; angles and rates in the units that the names say.
"""

from passes.mount.axes import longest_run, runs, within_limits
from passes.mount.blur import (
    allowed_blur_arcsec,
    blur_arcsec,
    blur_exposure_s,
    residual_rate_arcsec_s,
    shake_travel_arcsec,
)
from passes.mount.waiting import (
    Errors,
    across_rad,
    catch_chance,
    chord_rad,
    drawn,
    in_frame_rad,
    inertial_velocity_km_s,
    left_of_path_rad,
    path_tilt_rad,
    stretched,
)

__all__ = [
    "Errors",
    "across_rad",
    "allowed_blur_arcsec",
    "blur_arcsec",
    "blur_exposure_s",
    "catch_chance",
    "chord_rad",
    "drawn",
    "in_frame_rad",
    "inertial_velocity_km_s",
    "left_of_path_rad",
    "longest_run",
    "path_tilt_rad",
    "residual_rate_arcsec_s",
    "runs",
    "shake_travel_arcsec",
    "stretched",
    "within_limits",
]
