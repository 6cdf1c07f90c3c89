"""May the shutter open now?  Answered from a list made beforehand, at once."""

from __future__ import annotations

import hashlib
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil, isfinite
from pathlib import Path
from typing import Any

from passes.errors import InputError, PassesError, UnknownName
from passes_plugins.streaks.document import iso

#: What the list is, so that no other file is taken for one.
_KIND, _VERSION = "gate list", 1
_MOST_BYTES = 16_000_000
#: No list reaches further: a year.
_LONGEST_S = 366 * 86400.0
#: Verdicts from which the gate may be closed, the mildest first.
VERDICTS = ("faint", "removable", "spoiled")
#: For a shutter to close, and an answer to arrive, s (common practice).
ROOM_S = 2.0
#: The exit code of each answer; 1 and 2 are errors.
EXIT_CODES = {"open": 0, "wait": 10, "dither": 11}


class NotCovered(PassesError):
    """The list says nothing of that time, so nothing may be opened on its word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """A stretch in which a field's shutter should be shut, and for what.

    Bound and room are in ``start_s`` and ``end_s``, seconds from the list's start.
    """

    start_s: float
    end_s: float
    name: str
    catalog_number: int
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GateList:
    """Everything the gate must know of a session.

    ``starts`` names the target from each second on, in order of time.
    """

    start: datetime
    end: datetime
    plan: str
    settle_s: float
    starts: tuple[tuple[float, str], ...]
    closed: Mapping[str, tuple[Closed, ...]]
    demo: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class GateAnswer:
    """Open, wait or dither; ``longest_s`` could be exposed from now without harm."""

    answer: str
    time: datetime
    wait_s: int
    longest_s: float
    target: str
    because: Closed | None = None


def fingerprint(plan_text: str) -> str:
    """What a plan is known by, so that a list is used with no other."""
    return hashlib.sha256(plan_text.encode()).hexdigest()[:16]


class Gate:
    """Answers from one list; ``closing`` is the mildest verdict worth waiting for."""

    def __init__(self, listed: GateList, closing: str = "spoiled") -> None:
        self.listed = listed
        words = VERDICTS[VERDICTS.index(closing) :]
        self._closed = {
            target: _merged([one for one in some if one.verdict in words])
            for target, some in listed.closed.items()
        }

    def ask(self, now: datetime, exposure_s: float, target: str = "") -> GateAnswer:
        """Whether an exposure may begin now.

        NotCovered where the list does not reach over it all; UnknownName for a target
        that is not in the plan; InputError for no exposure.
        """
        if not isfinite(exposure_s) or not 0.0 < exposure_s <= 86400.0:
            raise InputError(
                f"an exposure of {exposure_s:g} s is impossible (0 to 86400)"
            )
        listed = self.listed
        time_s = (now - listed.start).total_seconds()
        length_s = (listed.end - listed.start).total_seconds()
        if not 0.0 <= time_s <= length_s - exposure_s:
            raise NotCovered(
                f"the list reaches from {iso(listed.start)} to {iso(listed.end)}, not "
                f"over {exposure_s:g} s from {iso(now)}"
            )
        target = target or self._target(time_s)
        if target not in self._closed:
            raise UnknownName("target", target, self._closed)
        return self._answer(now, time_s, length_s, exposure_s, target)

    def _target(self, time_s: float) -> str:
        """The target of the plan at a time."""
        moments = [start for start, _ in self.listed.starts]
        place = bisect_left(moments, time_s + 1e-9)
        return self.listed.starts[max(place - 1, 0)][1]

    def _answer(
        self,
        now: datetime,
        time_s: float,
        length_s: float,
        exposure_s: float,
        target: str,
    ) -> GateAnswer:
        opens, because, longest = time_s, None, length_s - time_s
        wait_s = 0
        for one in self._closed[target]:
            if one.end_s <= opens:
                continue
            if because is None:
                longest = max(one.start_s - time_s, 0.0)
            if one.start_s >= opens + exposure_s:
                break  # closes before this one comes
            because = because or one
            wait_s = ceil(one.end_s - time_s)  # whole seconds, and then looked at
            opens = time_s + wait_s
        settle_s = self.listed.settle_s
        word = "open"
        if wait_s:
            word = "dither" if 0.0 < settle_s <= wait_s else "wait"
        return GateAnswer(
            answer=word,
            time=now,
            wait_s=wait_s,
            longest_s=longest,
            target=target,
            because=because,
        )


def _merged(closed: Sequence[Closed]) -> list[Closed]:
    """Stretches in order of time, those that overlap as one under the first's name."""
    merged: list[Closed] = []
    for one in sorted(closed, key=lambda each: each.start_s):
        if merged and one.start_s <= merged[-1].end_s:
            last = merged[-1]
            merged[-1] = Closed(
                start_s=last.start_s,
                end_s=max(last.end_s, one.end_s),
                name=last.name,
                catalog_number=last.catalog_number,
                verdict=last.verdict,
            )
        else:
            merged.append(one)
    return merged


def answer_document(one: GateAnswer, demo: bool) -> dict[str, Any]:
    """An answer as JSON has it."""
    because = one.because
    return {
        "answer": one.answer,
        "time": iso(one.time),
        "wait_s": one.wait_s,
        "until": iso(one.time + timedelta(seconds=one.wait_s)),
        "longest_s": round(one.longest_s, 1),
        "target": one.target,
        "because": None
        if because is None
        else {
            "catalog_number": because.catalog_number,
            "name": because.name,
            "verdict": because.verdict,
        },
        "demo": demo,
    }


# --- the list as a file ---------------------------------------------------------


def list_bytes(listed: GateList) -> bytes:
    """A list as a file holds it."""
    import orjson

    document = {
        "kind": _KIND,
        "version": _VERSION,
        "demo": listed.demo,
        "plan": listed.plan,
        "start": iso(listed.start),
        "end": iso(listed.end),
        "settle_s": listed.settle_s,
        "targets": [list(pair) for pair in listed.starts],
        "closed": {
            target: [
                [one.start_s, one.end_s, one.name, one.catalog_number, one.verdict]
                for one in some
            ]
            for target, some in listed.closed.items()
        },
    }
    return orjson.dumps(document, option=orjson.OPT_INDENT_2)


def read_list(path: Path) -> GateList:
    """Read a list; InputError where the file is none, or damaged."""
    import orjson

    try:
        with path.open("rb") as file:
            content = file.read(_MOST_BYTES + 1)
        if len(content) > _MOST_BYTES:
            raise InputError(f"{path}: too long for a gate list (over 16 MB)")
        document = orjson.loads(content)
        if document["kind"] != _KIND or document["version"] != _VERSION:
            raise ValueError("another kind of file")
        return _listed(document)
    except OSError as error:
        raise InputError(f"{path}: {error.strerror or error}") from error
    except (ValueError, KeyError, TypeError, IndexError, AttributeError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(
            f"{path}: is no gate list, or damaged; remove it to have it made anew"
        ) from error


def _listed(document: Mapping[str, Any]) -> GateList:
    closed = {
        str(target): tuple(_closed(*row) for row in rows)
        for target, rows in document["closed"].items()
    }
    starts = tuple((_seconds(at), str(name)) for at, name in document["targets"])
    if not starts or any(name not in closed for _, name in starts):
        raise ValueError("targets and stretches do not belong together")
    found = GateList(
        start=datetime.fromisoformat(document["start"]),
        end=datetime.fromisoformat(document["end"]),
        plan=str(document["plan"]),
        settle_s=_seconds(document["settle_s"]),
        starts=starts,
        closed=closed,
        demo=bool(document["demo"]),
    )
    if found.start.tzinfo is None or found.end.tzinfo is None:
        raise ValueError("times without a zone")
    if not 0.0 <= (found.end - found.start).total_seconds() <= _LONGEST_S:
        raise ValueError("no such session")
    return found


def _seconds(value: Any) -> float:
    """Seconds from the start of a list, or of a wait."""
    if isinstance(value, bool | str) or not abs(value) <= _LONGEST_S:
        raise ValueError("no such time")
    return float(value)


def _closed(
    start_s: float, end_s: float, name: str, number: int, verdict: str
) -> Closed:
    if verdict not in VERDICTS or not end_s >= start_s:
        raise ValueError("no such stretch")
    return Closed(
        start_s=_seconds(start_s),
        end_s=_seconds(end_s),
        name=str(name),
        catalog_number=int(number),
        verdict=verdict,
    )
