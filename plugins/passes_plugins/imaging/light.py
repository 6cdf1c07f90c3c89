"""What one pixel gets at one moment, and how long it may be exposed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import nan

from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.scene import Scene, motion_s, object_e_s, surface_e_s
from passes_plugins.imaging.transit import Disc


@dataclass(frozen=True, slots=True)
class Light:
    """A pixel's electrons a second, and the shutter's limits; nan is unknown.

    ``way`` is what the mount does, ``motion_s`` the longest exposure without visible
    blur, ``holds_s`` how long the seeing keeps its pattern.
    """

    way: str
    signal_e_s: float
    sky_e_s: float
    motion_s: float
    holds_s: float = nan

    @property
    def flow_e_s(self) -> float:
        """Everything that fills the pixel."""
        return self.signal_e_s + self.sky_e_s


def light_at(scene: Scene, bench: Bench, choices: Choices, way: str, i: int) -> Light:
    """The object's light at one sample, for a bench that may differ from the scene's.

    It may differ in what comes after the aperture: extender, filter, binning.
    """
    if bench is scene.bench:
        signal, sky = scene.signal_e_s[i], scene.sky_e_s[i]
        longest = scene.exposures_s[way][i]
    else:
        signal = object_e_s(scene.track.magnitude[i], scene.lit_arcsec2[i], bench)
        sky = surface_e_s(scene.sky_mag[i], bench)
        longest = motion_s(scene.rates_arcsec_s[way][i], bench, choices)
    return Light(
        way, float(signal), float(sky), float(longest), float(scene.holds_s[i])
    )


def disc_light(light: Light, disc: Disc, bench: Bench) -> Light:
    """The same with a disc behind the object: its surface is what is exposed for.

    A solar filter stops the sky as well; the Moon is seen through it, by day too.
    """
    return replace(
        light,
        signal_e_s=float(surface_e_s(disc.mag_arcsec2, bench)),
        sky_e_s=light.sky_e_s if disc.body == "moon" else 0.0,
    )


def subject_light(
    scene: Scene, bench: Bench, choices: Choices, way: str, i: int, disc: Disc | None
) -> Light:
    """The light of the object, or of the disc that it crosses."""
    light = light_at(scene, bench, choices, way, i)
    return light if disc is None else disc_light(light, disc, bench)
