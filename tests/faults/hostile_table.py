"""Prints, as Markdown, what was tried against the program and what came out.

Run ``python tests/faults/hostile_table.py`` from the repository; it takes minutes,
because it sends every name through every way out.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from hostile import places
from hostile.cases import CASES
from hostile.exits import EXITS, Trial
from hostile.names import FAMILIES, FEW, NAMES, harm


def names(folder: Path) -> Iterator[str]:
    """How many names of each kind came out of each way as data."""
    # a sheet has no room for all of them
    trials = dict.fromkeys(EXITS, Trial(folder / "all", NAMES))
    trials["HTML"] = Trial(folder / "few", FEW)
    troubles = {way: trial.troubles(way) for way, trial in trials.items()}
    lost = {way: set(trial.lost(way)) for way, trial in trials.items()}
    yield "Names that came out as data (of those tried; a dash where none is drawn)."
    yield ""
    yield f"| names | {' | '.join(EXITS)} |"
    yield f"|---|{'---|' * len(EXITS)}"
    for family, members in FAMILIES.items():
        cells = []
        for way, exit_ in EXITS.items():
            sent = [f"{family}: {which}" for which in members]
            sent = [label for label in sent if label in trials[way].names]
            came = len(sent) - len(lost[way].intersection(sent))
            tried = len(sent) if exit_.every or way == "HTML" else came
            cells.append(f"{came}/{tried}" if tried else "–")
        yield f"| {family} | {' | '.join(cells)} |"
    yield f"| shape or signs changed | {_counts(troubles)} |"
    for way, told in troubles.items():
        yield from (f"- {way}: {one}" for one in told)


def _counts(troubles: dict[str, list[str]]) -> str:
    return " | ".join(
        f"{len(told)} of {len(EXITS[way].lines)} commands"
        for way, told in troubles.items()
    )


def documents(folder: Path) -> Iterator[str]:
    """What the program said to each bad document."""
    yield "| file | with | exit | said |"
    yield "|---|---|---|---|"
    for case in CASES:
        code, said = case.outcome(folder)
        flat = " ".join(said.split())
        held = code == case.code and case.words in flat
        line = flat.partition("Left out, 1: ")[2] if code == 0 and held else flat
        mark = "" if held and not harm(said) else " **not as wanted**"
        yield f"| {case.kind} | {case.what} | {code} | {_cell(line)}{mark} |"


def _cell(text: str) -> str:
    return " ".join(text.split()).removeprefix("passes: ").replace("|", "\\|")[:110]


def outputs(folder: Path) -> Iterator[str]:
    """Where an output goes that is a link."""
    yield "| `--output` is | said | then |"
    yield "|---|---|---|"
    for what, (said, there) in places.linked_outputs(folder).items():
        yield f"| {what} | {said} | {there} |"
    if os.geteuid() == 0:
        said, there = places.anothers_link(folder)
        yield f"| another user's link in a shared folder | {said} | target: {there} |"


def redirects() -> Iterator[str]:
    """What is said to a server that sends on."""
    yield "| a server sends on to | said |"
    yield "|---|---|"
    for location in places.REDIRECTS:
        said = places.redirected(location)
        yield f"| {location} | {_cell(said.rpartition(': ')[2])} |"


def main() -> None:
    os.environ["NO_PROXY"] = "127.0.0.1"
    for part in (names, documents, outputs):
        with TemporaryDirectory(prefix="passes-hostile-") as folder:
            print("\n".join(part(Path(folder))), end="\n\n", flush=True)
    print("\n".join(redirects()))


if __name__ == "__main__":
    main()
