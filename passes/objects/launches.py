"""The launch an object came from, read from its international designator."""

from __future__ import annotations

import re
from functools import lru_cache

#: Year and number of a launch in that year.
Launch = tuple[int, int]

_FORMS = (
    re.compile(r"(\d{4})-?(\d{3})([A-Z]{0,3})"),  # 1998-067A, as catalogues write it
    re.compile(r"(\d{2})(\d{3})([A-Z]{0,3})"),  # 98067A, as element sets write it
)


@lru_cache(maxsize=1 << 17)
def parts_of(designator: str) -> tuple[int, int, str] | None:
    """Year, number and piece of an international designator; None if it is not one.

    Two-digit years run from 57 (1957) to 56 (2056), as in two-line element sets.
    """
    text = designator.strip().upper()
    for form in _FORMS:
        if match := form.fullmatch(text):
            year = int(match[1])
            if len(match[1]) == 2:
                year += 1900 if year >= 57 else 2000
            return year, int(match[2]), match[3]
    return None


def launch_of(designator: str) -> Launch | None:
    """Year and number of the launch: ``98067A`` and ``1998-067A`` → ``(1998, 67)``."""
    parts = parts_of(designator)
    return None if parts is None else parts[:2]


def launch_range(text: str, *, end: bool) -> Launch | None:
    """A limit of a range of launches: ``2020-055``, or a whole year ``2020``.

    ``end`` says which side a whole year is taken to: its last launch or its first.
    Empty text is None (no limit).  Raises ValueError for anything else.
    """
    text = text.strip()
    if not text:
        return None
    match = re.fullmatch(r"(\d{4})(?:-(\d{1,3}))?", text)
    if not match:
        raise ValueError(f"launch {text!r}: write 2020-055 or 2020")
    return int(match[1]), int(match[2]) if match[2] else (999 if end else 0)
