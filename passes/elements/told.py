"""How what was left out is told to a person."""

from __future__ import annotations

from collections.abc import Sequence

from passes.elements.catalogue import Skipped

#: How many are shown before the rest is counted.
SHOWN = 10


def rejected_lines(
    rejected: Sequence[Skipped], *, verbose: bool = False, most: int = SHOWN
) -> list[str]:
    """One line for each of the first ``most``, the rest counted; all if verbose."""
    shown = rejected if verbose else rejected[:most]
    lines = [_line(skipped) for skipped in shown]
    if rest := len(rejected) - len(shown):
        lines.append(f"… and {rest:,} more left out (--verbose lists all)")
    return lines


def _line(skipped: Skipped) -> str:
    number = "" if skipped.catalog_number is None else f"{skipped.catalog_number:05d}"
    subject = " ".join(filter(None, (number, skipped.name)))
    return ": ".join(filter(None, (skipped.where, subject, skipped.reason)))
