"""What the person may choose: the plugin's own table of the configuration, checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from math import isfinite
from typing import Any

from passes.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """Settings of the verdicts, keys of ``[plugins.streaks]``.

    A trail whose peak signal-to-noise in a pixel stays under ``clean_below`` is not
    seen in the stack; from ``removable_from`` up rejection takes it out, given
    ``least_subs`` of that filter and no more than ``spoiled_percent`` of the frame.
    ``dark_e_s`` is a cooled camera's dark current, ``optics`` what mirrors and lenses
    let through.  ``least_chance`` is the chance from which a crossing is listed with a
    sub.  ``margin_s`` is searched on either side of the subs, ``aside_deg`` beside the
    frame, for what its error may bring in.  ``sizes`` names a table of dimensions,
    columns as in the packaged one.  Defaults are common practice without a source.
    """

    clean_below: float = 0.3
    removable_from: float = 2.5
    least_subs: float = 10.0
    spoiled_percent: float = 2.0
    dark_e_s: float = 0.005
    optics: float = 0.9
    least_chance: float = 0.01
    margin_s: float = 120.0
    aside_deg: float = 0.5
    sizes: str = ""

    @classmethod
    def of(cls, settings: Mapping[str, Any]) -> Choices:
        """Read them from a table; InputError says which value cannot be used."""
        known = [place.name for place in fields(cls)]
        for name, value in settings.items():
            if name not in known:
                raise InputError(
                    f"[plugins.streaks]: unknown key {name!r}; known are "
                    f"{', '.join(sorted(known))}"
                )
            _check(name, value)
        chosen = cls(**dict(settings))
        if chosen.removable_from < chosen.clean_below:
            raise InputError(
                "[plugins.streaks]: removable_from must not lie under clean_below"
            )
        return chosen


_LIMITS = {
    "clean_below": (0.0, 1000.0),
    "removable_from": (0.0, 1000.0),
    "least_subs": (1.0, 10_000.0),
    "spoiled_percent": (0.0, 100.0),
    "dark_e_s": (0.0, 100.0),
    "optics": (0.01, 1.0),
    "least_chance": (0.0, 0.5),
    "margin_s": (0.0, 3600.0),
    "aside_deg": (0.0, 5.0),
}


def _check(name: str, value: Any) -> None:
    if name == "sizes":
        if not isinstance(value, str):
            raise InputError(
                "[plugins.streaks] sizes: want the name of a file in quotes"
            )
        return
    low, high = _LIMITS[name]
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not isfinite(value) or not low <= value <= high:
        raise InputError(
            f"[plugins.streaks] {name}: {value!r} is impossible ({low:g} to {high:g})"
        )
