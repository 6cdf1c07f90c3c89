"""A deep-sky session: the night, the rigs, the targets and the subs."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import nan

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
    """One exposure: when the shutter opens, for how long, on what."""

    index: int
    start: datetime
    exposure_s: float
    target: Target
    rig: str = ""
    filter: str = ""
    gain: str = ""
    path: str | None = None
    start_jitter_s: float = nan

    def __post_init__(self) -> None:
        hold_times(self, "start")
        within(self.exposure_s, 1e-6, 86400.0, f"sub {self.index}: exposure", " s")

    @property
    def end(self) -> datetime:
        """When the shutter closes."""
        return self.start + timedelta(seconds=self.exposure_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """What a session reporter is asked about; any part may be empty."""

    night: Night | None = None
    rigs: tuple[Rig, ...] = ()
    targets: tuple[Target, ...] = ()
    subs: tuple[Sub, ...] = ()

    def __post_init__(self) -> None:
        hold_tuples(self, "rigs", "targets", "subs")
