"""Where what happens is kept and told: the state file, the log, stderr."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from passes.errors import PassesError
from passes_plugins.scheduling.cueing.clocks import Clock
from passes_plugins.scheduling.cueing.memory import Memory
from passes_plugins.scheduling.cueing.talking import Log, Talk, stamp


class Records:
    """Writes to all of them; a disk that fails is told once and stops nothing."""

    def __init__(self, clock: Clock, memory: Memory, talk: Talk, log: Log) -> None:
        self._clock, self._memory, self._talk, self._log = clock, memory, talk, log

    def note(self, name: str, state: str, **more: Any) -> None:
        """Keep what became of a step."""
        at = stamp(self._clock.now())
        self._keep(lambda: self._memory.note(name, state, at=at, **more))

    def late(self, subject: str, late_s: float) -> None:
        """Keep how late a subject is taken to be."""
        self._keep(lambda: self._memory.note_late(subject, late_s))

    def _keep(self, write: Callable[[], None]) -> None:
        try:
            write()
        except PassesError as error:
            self._memory.close()
            self.tell(f"{error}; going on without it", "trouble")

    def tell(self, text: str, what: str, **more: Any) -> None:
        """A line on stderr, and in the log."""
        self._talk.tell(f"passes: {text}")
        self.log(what, self._clock.now(), text=text, **more)

    def log(self, what: str, now: float, **more: Any) -> None:
        """A line in the log only."""
        trouble = self._log.note(what, now, **more)
        if trouble:
            self._talk.tell(f"passes: {trouble}")
