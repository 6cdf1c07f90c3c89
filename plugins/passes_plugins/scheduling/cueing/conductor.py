"""The loop that gives out every step at its time."""

from __future__ import annotations

import select
from dataclasses import dataclass
from typing import Any, Literal

from passes.plans.schedule import json_line
from passes_plugins.scheduling.cueing.account import Account
from passes_plugins.scheduling.cueing.agenda import LATE_S, Agenda, Item
from passes_plugins.scheduling.cueing.clocks import Clock
from passes_plugins.scheduling.cueing.giving import Giver
from passes_plugins.scheduling.cueing.keys import shift_s
from passes_plugins.scheduling.cueing.memory import Memory
from passes_plugins.scheduling.cueing.programs import Programs, Result
from passes_plugins.scheduling.cueing.records import Records
from passes_plugins.scheduling.cueing.talking import (
    Log,
    Talk,
    lapse,
    moment,
    named,
    stamp,
)
from passes_plugins.scheduling.cueing.waiting import Bells, Waiting

#: How many late steps are told one by one.
_SHOWN = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """What to do when something is not as it should be.

    Late steps are done where what they are for can still be had (``join``), left out or
    done at once.
    """

    late: Literal["join", "skip", "fire"] = "join"
    unsure: Literal["skip", "repeat"] = "skip"
    stop_on_failure: bool = False


class Conductor:
    """Gives out the steps of an agenda; :meth:`run` returns the exit code."""

    def __init__(
        self,
        agenda: Agenda,
        clock: Clock,
        manner: Manner,
        memory: Memory,
        talk: Talk,
        log: Log,
    ) -> None:
        self.agenda, self.clock, self.manner = agenda, clock, manner
        self.memory, self.talk = memory, talk
        self._records = Records(clock, memory, talk, log)
        self.programs: Programs | None = None
        self.giver: Giver | None = None
        self._account = Account()
        self._again: set[str] = set()
        self._steps: dict[str, str] = {}
        self._failed = self._skipped = 0
        self._ending = ""
        self._signal = 0
        self._bells = Bells(agenda, talk)
        self.waiting = Waiting()

    # --- the loop ---------------------------------------------------------------

    def run(self) -> int:
        """Give out every step; the exit code."""
        self._remember()
        self._bells.since(self.clock.now())
        with self.waiting.signals(self._caught):
            while not self._ending:
                item = self.agenda.first()
                if item is None:
                    break
                self._turn(item)
            self._finish()
        return self._code()

    def _turn(self, item: Item) -> None:
        """Wait a while for the next step, or give it out."""
        self.clock.allow(self._bells.ahead(item.due))
        news = self.clock.look()
        if news:
            self._records.tell(news, "clock")
        now = self.clock.now()
        self._bells.ring(now)
        begin = item.due - self.memory.early_s
        if now < begin:
            self.talk.countdown(item, now, self.agenda.late_s(item.entry.step.subject))
            until = min(begin, self._bells.next(now, begin))
            self._pause(self.clock.wait_s(until))
            return
        self.agenda.take(item)
        if now - item.due > LATE_S and not self._excused(item, now):
            self._skip(item, f"{lapse(now - item.due)} late")
        else:
            self._cue(item)

    def _excused(self, item: Item, now: float) -> bool:
        """Whether a late step is given out all the same."""
        step = item.entry.step
        start = self._account.begun_by(step)
        if self.manner.late == "fire" or item.id in self._again:
            why = ""
        elif start:
            why = f", because its {start} was"
        elif self.manner.late == "join" and self.agenda.goes_on(step, now):
            why = ", because it can still be had"
        else:
            return False
        words = f"{lapse(now - item.due)} late: {named(step)}; done at once{why}"
        self._records.tell(words, "late", id=item.id)
        return True

    def _cue(self, item: Item) -> None:
        """Note the intent, give the step out on its second, start its program."""
        step = item.entry.step
        self._records.note(item.id, "intent")
        while (rest := self.clock.wait_s(item.due)) > 0.0:
            select.select([], [], [], rest)
        self.clock.reached(item.due)
        now = self.clock.now()
        document: dict[str, Any] = {
            **item.entry.document,
            "cued_at": stamp(now),
            "lateness_s": round(max(now - item.due, 0.0), 6),
        }
        self._steps[item.id] = named(step)
        self._account.note(step)
        if self.programs is not None:
            self.programs.start(item.id, document)
        self._give(item.id, document)
        self._bells.ring(now, item.due)
        lateness = document["lateness_s"]
        self._records.log("cued", now, id=item.id, lateness_s=lateness)
        if self.talk.lively:
            self.talk.tell(f"{moment(now):%H:%M:%S}Z {named(step)}")

    def _give(self, name: str, document: dict[str, Any]) -> None:
        def after() -> None:
            if self.programs is None:
                self._records.note(name, "done")

        if self.giver is not None:
            self.giver.give(json_line(document), after)

    def _skip(self, item: Item, why: str) -> None:
        text = f"left out, {why}: {named(item.entry.step)}"
        self._skipped += 1
        if self._skipped <= _SHOWN:
            self.talk.tell(f"passes: {text}")
        self._records.log("skipped", self.clock.now(), text=text, id=item.id)
        self._records.note(item.id, "skipped")
        following = self.agenda.first()
        if following is None or following.due > self.clock.now() - LATE_S:
            self._tell_skipped()

    def _tell_skipped(self) -> None:
        """How many more were left out than were shown."""
        if self._skipped > _SHOWN:
            more = self._skipped - _SHOWN
            self.talk.tell(f"passes: and {more} more left out (--late fire: done)")
        self._skipped = 0

    # --- what was done before -----------------------------------------------------

    def _remember(self) -> None:
        """Leave out what an earlier run has done; decide what it was about to do."""
        done = 0
        for subject, late_s in self.memory.late_s.items():
            if late_s and late_s == self.agenda.late_s(subject):
                self._records.tell(
                    f"{subject}: taken {late_s:+g} s late, as before", "resumed"
                )
        for item in self.agenda.items():
            state = self.memory.states.get(item.id, "")
            step = item.entry.step
            if state in ("done", "intent"):
                self._account.note(step)
            if state in ("done", "skipped"):
                done += 1
                self.agenda.take(item)
            elif state == "intent":
                self._in_flight(item)
        if done:
            self._records.tell(
                f"{done} step{'s' * (done > 1)} were done before", "resumed"
            )

    def _in_flight(self, item: Item) -> None:
        due = f"{moment(item.due):%H:%M:%S}Z"
        what = f"not sure that this was done: {named(item.entry.step)}, due {due}"
        if self.manner.unsure == "repeat":
            self._again.add(item.id)
            self._records.tell(f"{what}; it is done again", "unsure", id=item.id)
            return
        self.agenda.take(item)
        self._records.tell(
            f"{what}; it is left out (--unsure repeat: done again)",
            "unsure",
            id=item.id,
        )
        self._records.note(item.id, "skipped")

    # --- keys and signals -----------------------------------------------------------

    def _pause(self, seconds: float) -> None:
        shift = shift_s(self.waiting.pause(seconds))
        item = self.agenda.movable()
        if not shift or item is None:
            return
        subject = item.entry.step.subject
        late = self.agenda.shift(subject, shift, self.clock.now())
        self._records.late(subject, late)
        self._records.tell(
            f"{subject}: {shift:+g} s, now taken {late:+g} s late", "shifted"
        )

    def _caught(self, number: int) -> None:
        self._signal = self._signal or number
        self._ending = self._ending or "told to stop"

    # --- how programs and readers fare ---------------------------------------------

    def ended(self, result: Result) -> None:
        """A program has ended; called from its own thread."""
        unfinished = bool(self._signal) and result.trouble == "stopped with us"
        if not unfinished:
            self._records.note(result.id, "done", code=result.code)
        self._records.log(
            "ended",
            self.clock.now(),
            id=result.id,
            code=result.code,
            seconds=round(result.seconds, 3),
            output=result.output,
            trouble=result.trouble,
        )
        self.talk.tell(f"  {self._steps[result.id]}: {result.words()}")
        if result.failed and not unfinished:
            self._failed += 1
            if self.manner.stop_on_failure:
                self._ending = self._ending or "a program failed"
                self.waiting.wake()

    def unread(self, reason: str) -> None:
        """Nobody reads the steps any more; called from the giver's thread."""
        self._failed += 1
        self._records.tell(
            f"steps can no longer be written to stdout: {reason}", "trouble"
        )
        if self.programs is None:
            self._ending = self._ending or "nobody is listening"
            self.waiting.wake()

    # --- the end ----------------------------------------------------------------------

    def _finish(self) -> None:
        """Let programs end, unless we were told to; say what is left undone."""
        programs = self.programs
        if programs is not None:
            waiting = len(programs.running())
            if waiting and not self._signal:
                self.talk.tell(
                    f"passes: waiting for {waiting} program{'s' * (waiting > 1)} to end"
                )
            while programs.busy() and not self._signal:
                self._pause(0.1)
            programs.end()
        if self.giver is not None and not self.giver.close() and not self._failed:
            self._failed += 1
            self.talk.tell("passes: some steps could not be written to stdout")
        if self._ending:
            self._undone()
        self.talk.close()

    def _undone(self) -> None:
        left = [
            f"  {moment(item.due):%Y-%m-%d %H:%M:%S}Z {named(item.entry.step)}"
            for item in self.agenda.items()
        ]
        count = f"{len(left)} step{'s' * (len(left) != 1)} left undone"
        self._records.tell(f"{self._ending}; {count}", "stopped")
        self.talk.some(left)
        for event, name in self._account.open():
            what = self._steps.get(name, name)
            self.talk.tell(f"passes: begun and not ended: {what} (its {event})")

    def _code(self) -> int:
        if self._signal:
            return 128 + self._signal
        return 1 if self._failed or self._ending else 0
