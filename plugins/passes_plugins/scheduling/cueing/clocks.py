"""Time to wait by: the monotonic clock tied to UTC, or a simulated evening.

Times are seconds since 1970 (UTC), as :func:`time.time` has them.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

#: The clock of the machine has stepped if it is off by more, s; less is followed.
STEP_S = 0.25
#: Longest time without a look at the machine's clock, s.
LOOK_S = 0.5

Reading = Callable[[], float]


def _nothing() -> float:
    return 0.0


def suspended_s() -> Reading:
    """A reading of how long the machine has slept, where the system tells."""
    if not hasattr(time, "CLOCK_BOOTTIME"):
        return _nothing
    return lambda: time.clock_gettime(time.CLOCK_BOOTTIME) - time.monotonic()


class Clock(Protocol):
    """What the steps are timed by."""

    def now(self) -> float:
        """The time."""

    def look(self) -> str:
        """Compare with the machine's clock; a sentence where time has jumped."""

    def wait_s(self, until: float) -> float:
        """How many real seconds may be waited now, at most."""

    def reached(self, due: float) -> None:
        """A step is due at that time and being given out."""

    def allow(self, until: float) -> None:
        """Nothing is due before that time."""


@dataclass(slots=True)
class RealClock:
    """UTC carried on by the monotonic clock between looks at the machine's."""

    wall: Reading = time.time
    monotonic: Reading = time.monotonic
    asleep: Reading = None  # type: ignore[assignment]
    _offset: float = 0.0
    _slept: float = 0.0

    def __post_init__(self) -> None:
        if self.asleep is None:
            self.asleep = suspended_s()
        self._offset = self.wall() - self.monotonic()
        self._slept = self.asleep()

    def now(self) -> float:
        """UTC."""
        return self.monotonic() + self._offset

    def look(self) -> str:
        """Follow the machine's clock; say so where it stepped, or slept."""
        slept = self.asleep() - self._slept
        off = self.wall() - self.now()
        self._offset += off
        self._slept += slept
        if slept > STEP_S:
            rest = off - slept
            more = f", and its clock was set by {rest:+.1f} s" if abs(rest) > 1 else ""
            return f"the machine slept for {slept:.1f} s{more}"
        if abs(off) > STEP_S:
            return f"the machine's clock was set by {off:+.2f} s; going by it from now"
        return ""

    def wait_s(self, until: float) -> float:
        """Until then, but looking at the clock in between."""
        return max(min(until - self.now(), LOOK_S), 0.0)

    def reached(self, due: float) -> None:
        """Nothing to do: time goes on by itself."""

    def allow(self, until: float) -> None:
        """Nothing to do: time goes on by itself."""


@dataclass(slots=True)
class SimulatedClock:
    """A clock that runs ``speed`` times as fast from ``start``, and waits for steps.

    It never passes a step that has not been given out, so nothing is late.  It stands
    until it is first allowed to go on, so that none passes while others get ready.
    """

    start: float
    speed: float = 60.0
    monotonic: Reading = time.monotonic
    _begun: float = 0.0
    _barrier: float = float("inf")

    def __post_init__(self) -> None:
        self._begun, self._barrier = self.monotonic(), self.start

    def now(self) -> float:
        """The simulated time."""
        return min(self._free(), self._barrier)

    def _free(self) -> float:
        return self.start + (self.monotonic() - self._begun) * self.speed

    def look(self) -> str:
        """It does not jump."""
        return ""

    def wait_s(self, until: float) -> float:
        """Until then at this speed."""
        return max(min((until - self._free()) / self.speed, LOOK_S), 0.0)

    def reached(self, due: float) -> None:
        """Go on from the time of the step."""
        if self._free() > due:
            self.start, self._begun = due, self.monotonic()
        self._barrier = due

    def allow(self, until: float) -> None:
        """Go no further than that for now."""
        self._barrier = until
