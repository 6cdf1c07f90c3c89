"""A pass to be drawn against time, and what a rig makes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo

import numpy as np
from numpy.typing import NDArray

from passes.model import Site, Span, Track

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Limit:
    """The longest shutter along a pass, ``(n,)`` seconds at times; and its name."""

    label: str
    times: Sequence[datetime]
    exposure_s: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Shooting:
    """What a rig makes of a pass; anything may be missing.

    ``follow`` is the stretch that the mount can follow, ``record`` from when to when
    to record, ``waits`` the middles of the places to lie in wait at.
    """

    rig: str = ""
    limits: tuple[Limit, ...] = ()
    follow: Span | None = None
    record: Span | None = None
    waits: tuple[datetime, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The pass to be drawn."""

    site: Site
    track: Track
    zone: tzinfo
    visible: tuple[Span, ...] = ()
    shooting: Shooting = field(default_factory=Shooting)
    demo: bool = False
