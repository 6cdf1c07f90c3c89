"""What the person may choose: the plugin's own table of the configuration, checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from math import isfinite, nan
from typing import Any

from passes import sensor
from passes.errors import InputError

#: A dial has thirds of a stop: the well may fill so much above what was asked for, so
#: that 35 % come out between 31 and 40 (common practice: 30 to 40 %).
_LEVEL_ROOM = 0.40 / 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """Settings of the advice, keys of ``[plugins.imaging]``; nan is left to the engine.

    ``sizes`` names a table of dimensions, columns as in the packaged one.
    ``mount`` (``fixed``, ``stars``, ``follow``) replaces what the rig's mount would do.
    ``blur_px`` is the blur allowed, ``frames`` how many a waiting place must catch,
    ``fill`` the part of the well that the object may fill and ``glint_mag`` how much
    brighter its glints are (common practice: 30 to 40 %, 2 to 3 mag).  Both at once no
    well can hold, as 35 % leave 1.1 mag: the object's level comes first, unless
    ``keep_glints``.  ``optics`` is what mirrors and lenses let through.  ``length_m``,
    ``width_m`` and ``filled`` state an object's size.  ``build_up_s`` is the time in
    which a following mount's error builds up, ``turn_deg`` how well the camera's
    rotation is known, ``wind_m_s`` the wind that carries the seeing, ``lead_s`` the
    margin of a recording, ``sun_keep_deg`` how near a risen Sun nothing follows
    (all common practice, no source).
    """

    mount: str = ""
    sizes: str = ""
    blur_px: float = nan
    frames: float = 5.0
    fill: float = 0.35
    glint_mag: float = 2.5
    keep_glints: bool = False
    optics: float = 0.9
    length_m: float = nan
    width_m: float = nan
    filled: float = nan
    seeing_arcsec: float = nan
    build_up_s: float = 1.0
    turn_deg: float = 3.0
    wind_m_s: float = 10.0
    lead_s: float = 10.0
    sun_keep_deg: float = 30.0
    every_s: float = 10.0

    @property
    def level(self) -> float:
        """Part of the well to fill at most, less where glints are to be kept."""
        if not self.keep_glints:
            return self.fill
        return min(self.fill, float(sensor.fill_allowing_glints(self.glint_mag)))

    @property
    def fullest(self) -> float:
        """The most of the well that a dial's third of a stop may make of it."""
        return self.level if self.keep_glints else min(self.level * _LEVEL_ROOM, 1.0)

    @classmethod
    def of(cls, settings: Mapping[str, Any]) -> Choices:
        """Read them from a table; InputError says which value cannot be used."""
        known = {place.name for place in fields(cls)}
        for name, value in settings.items():
            if name not in known:
                raise InputError(
                    f"[plugins.imaging]: unknown key {name!r}; known are "
                    f"{', '.join(sorted(known))}"
                )
            _check(name, value)
        values: dict[str, Any] = dict(settings)
        return cls(**values)


_MOUNTS = ("", "fixed", "stars", "follow")
_LIMITS = {
    "blur_px": (0.05, 100.0),
    "frames": (1.0, 100_000.0),
    "fill": (0.01, 0.95),
    "glint_mag": (0.0, 10.0),
    "optics": (0.01, 1.0),
    "length_m": (0.01, 10_000.0),
    "width_m": (0.01, 10_000.0),
    "filled": (0.01, 1.0),
    "seeing_arcsec": (0.1, 30.0),
    "build_up_s": (0.001, 600.0),
    "turn_deg": (0.0, 90.0),
    "wind_m_s": (0.1, 100.0),
    "lead_s": (0.0, 3600.0),
    "sun_keep_deg": (5.0, 180.0),
    "every_s": (0.05, 3600.0),
}


def _check(name: str, value: Any) -> None:
    where = f"[plugins.imaging] {name}"
    if name == "sizes":
        if not isinstance(value, str):
            raise InputError(f"{where}: want the name of a file in quotes")
        return
    if name == "keep_glints":
        if not isinstance(value, bool):
            raise InputError(f"{where}: {value!r} is neither true nor false")
        return
    if name == "mount":
        if value not in _MOUNTS:
            raise InputError(f"{where}: {value!r} is none of fixed, stars, follow")
        return
    low, high = _LIMITS[name]
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not isfinite(value) or not low <= value <= high:
        raise InputError(f"{where}: {value!r} is impossible ({low:g} to {high:g})")
