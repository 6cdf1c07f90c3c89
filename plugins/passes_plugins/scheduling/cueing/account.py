"""What was begun and not ended: a recording that runs, a hold that lasts."""

from __future__ import annotations

from collections.abc import Iterator

from passes.model import Step
from passes_plugins.scheduling.cueing.agenda import ENDS


class Account:
    """Keeps, by kind, subject and rig, the id of what was begun last."""

    def __init__(self) -> None:
        self._begun: dict[tuple[str, str, str], str] = {}

    def note(self, step: Step) -> None:
        """A step was given out."""
        if step.event in ENDS.values():
            self._begun[step.event, step.subject, step.rig] = step.id
        elif step.event in ENDS:
            self._begun.pop((ENDS[step.event], step.subject, step.rig), None)

    def begun_by(self, step: Step) -> str:
        """The kind of step that this one must end, or nothing."""
        start = ENDS.get(step.event, "")
        return start if (start, step.subject, step.rig) in self._begun else ""

    def open(self) -> Iterator[tuple[str, str]]:
        """Kind and id of everything begun and not ended."""
        for (event, *_), name in self._begun.items():
            yield event, name
