"""The path in axes fixed to the ground, and what may be wrong with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import mount, sky, vectors
from passes.model import Site, Track
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices

Floats = NDArray[np.float64]

_DRAWS = 4000


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """Places and velocities among the stars ``(n, 3)`` in Earth-fixed axes."""

    site_km: Floats
    place_km: Floats
    velocity_km_s: Floats

    def errors(self, track: Track, bench: Bench, choices: Choices) -> mount.Errors:
        """Lateness, offset aside, pointing and rotation, drawn with a seed."""
        return mount.drawn(
            timing_sigma_s=track.timing_sigma_s,
            timing_bound_s=track.timing_bound_s,
            cross_sigma_km=track.cross_track_sigma_km,
            pointing_rms_rad=np.radians(bench.rig.mount.pointing_error_arcmin / 60.0),
            turn_sigma_rad=np.radians(choices.turn_deg),
            draws=_DRAWS,
        )

    def across_rad(self, i: int, error: mount.Errors, *, among_stars: bool) -> Floats:
        """How far aside of the pointing for sample ``i`` the object runs, ``(m,)``."""
        off = mount.across_rad(
            self.place_km[i],
            self.velocity_km_s[i],
            self.site_km,
            error.late_s,
            error.aside_km,
            among_stars=among_stars,
        )
        return off + error.across_rad


def ground_of(track: Track, site: Site) -> Ground:
    """Put a track's directions and ranges back into space."""
    azimuth, altitude = np.radians(track.azimuth_deg), np.radians(track.altitude_deg)
    level = vectors.direction(np.pi / 2 - azimuth, altitude)  # east, north, up
    line = level @ sky.site_axes(site) * np.asarray(track.range_km)[:, np.newaxis]
    here = sky.site_km(site)
    place = here + line
    if len(track.time_s) > 2:
        moving = np.gradient(place, track.time_s, axis=0, edge_order=2)
    else:
        moving = np.full_like(place, np.nan)
    return Ground(here, place, mount.inertial_velocity_km_s(place, moving))
