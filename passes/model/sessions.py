"""A deep-sky session: the night, the rigs, the targets and the subs."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf, nan

from passes.model._frozen import hold_times, hold_tuples, within
from passes.model.places import Night
from passes.model.rigs import Rig


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A deep-sky field: centre (ICRS) and position angle of the frame's up."""

    name: str
    ra_deg: float
    dec_deg: float
    position_angle_deg: float = 0.0

    def __post_init__(self) -> None:
        within(self.ra_deg, 0.0, 360.0, f"target {self.name}: right ascension", "°")
        within(self.dec_deg, -90.0, 90.0, f"target {self.name}: declination", "°")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sub:
    """One exposure: when the shutter opens, for how long, on what.

    ``before`` are the chores between the sub before and this one that take time of
    their own: some of ``dither``, ``focus``, ``flip``.
    """

    index: int
    start: datetime
    exposure_s: float
    target: Target
    rig: str = ""
    filter: str = ""
    gain: str = ""
    path: str | None = None
    start_jitter_s: float = nan
    before: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        hold_times(self, "start")
        hold_tuples(self, "before")
        within(self.exposure_s, 1e-6, 86400.0, f"sub {self.index}: exposure", " s")

    @property
    def end(self) -> datetime:
        """When the shutter closes."""
        return self.start + timedelta(seconds=self.exposure_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Overheads:
    """What passes between exposures, seconds; 0 is nothing, inf is never.

    After each sub the download; after every ``dither_every`` subs a settling time;
    every ``focus_every_min`` minutes a focus run; ``flip_s`` for the meridian flip,
    which the mount needs ``flip_within_min`` minutes after the meridian at the latest.
    ``start_jitter_s`` is by how much (sigma) a shutter opens off its planned time.
    """

    download_s: float = 0.0
    dither_every: int = 1
    settle_s: float = 0.0
    focus_every_min: float = inf
    focus_s: float = 0.0
    flip_s: float = 0.0
    flip_within_min: float = 0.0
    start_jitter_s: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """What a session reporter is asked about; any part may be empty.

    ``overheads`` are what its subs were run off with, one after another; None where
    their starts are fixed or known only from files.  Dithers move the frame by up to
    ``dither_arcsec``.
    """

    night: Night | None = None
    rigs: tuple[Rig, ...] = ()
    targets: tuple[Target, ...] = ()
    subs: tuple[Sub, ...] = ()
    overheads: Overheads | None = None
    dither_arcsec: float = nan

    def __post_init__(self) -> None:
        hold_tuples(self, "rigs", "targets", "subs")
