"""Waiting that a signal, a key or a program's end can cut short; and bells."""

from __future__ import annotations

import contextlib
import os
import select
import signal
from collections.abc import Callable, Iterator
from typing import Any

from passes_plugins.scheduling.cueing.agenda import Agenda
from passes_plugins.scheduling.cueing.talking import BELLS_S, Talk


class Waiting:
    """Sleeps on a pipe, so that whoever writes to it ends the sleep at once.

    ``keys`` is a descriptor on which single keys arrive, or None.
    """

    def __init__(self) -> None:
        self.keys: int | None = None
        self._sleeper, self._waker = os.pipe()
        os.set_blocking(self._sleeper, False)
        os.set_blocking(self._waker, False)

    def wake(self) -> None:
        """End the sleep; from any thread and from a signal's handler."""
        with contextlib.suppress(BlockingIOError):  # full: it is awake already
            os.write(self._waker, b"!")

    def pause(self, seconds: float) -> bytes:
        """Sleep so long at most; the keys that were typed."""
        watched = [self._sleeper] + ([self.keys] if self.keys is not None else [])
        ready, _, _ = select.select(watched, [], [], seconds)
        if self._sleeper in ready:
            os.read(self._sleeper, 4096)
        if self.keys is None or self.keys not in ready:
            return b""
        typed = os.read(self.keys, 64)
        if not typed:
            self.keys = None  # the terminal has gone
        return typed

    @contextlib.contextmanager
    def signals(self, caught: Callable[[int], None]) -> Iterator[None]:
        """Have Ctrl-C, SIGTERM and a closed terminal told; what is ignored stays so."""

        def handler(number: int, _: Any) -> None:
            caught(number)
            self.wake()

        wanted = {signal.SIGINT, signal.SIGTERM, getattr(signal, "SIGHUP", 0)} - {0}
        heard = [n for n in wanted if signal.getsignal(n) is not signal.SIG_IGN]
        before = {number: signal.signal(number, handler) for number in heard}
        try:
            yield
        finally:
            for number, old in before.items():
                signal.signal(number, old)
            os.close(self._waker)
            os.close(self._sleeper)


class Bells:
    """Rings a minute before, ten seconds before, and at each step."""

    def __init__(self, agenda: Agenda, talk: Talk) -> None:
        self._agenda, self._talk = agenda, talk
        self._rung = 0.0

    def since(self, now: float) -> None:
        """What should have rung before that stays silent."""
        self._rung = now

    def _upcoming(self, now: float) -> Iterator[float]:
        """Times of bells for what comes next, and for all within the minute."""
        for place, item in enumerate(self._agenda.items()):
            if place and item.due > now + BELLS_S[0]:
                return
            yield from (item.due - before for before in BELLS_S)

    def next(self, now: float, begin: float) -> float:
        """When to look again: at the next bell, or when a step begins."""
        if not self._talk.lively:
            return begin
        return min((t for t in self._upcoming(now) if t > now), default=begin)

    def ahead(self, begin: float) -> float:
        """The first bell that has not rung, or when a step begins.

        A rehearsal goes no further at once, so that no two bells sound as one.
        """
        return min(self.next(self._rung, begin), begin)

    def ring(self, now: float, *given: float) -> None:
        """Ring once if any bell has come due; ``given`` are times of steps given out.

        Those are no longer ahead: a step whose intent takes a while to note is taken
        from the agenda before its second.
        """
        due = self._talk.lively and any(
            self._rung < t <= now for t in (*given, *self._upcoming(now))
        )
        if due:
            self._talk.bell()
        self._rung = max(now, self._rung)
