"""One line of what is ready for tonight, and what is not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

State = Literal["good", "caution", "bad", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One line: how it is, and what to do where it could be better.

    ``bad`` is what would spoil the night; ``values`` are the numbers behind it.
    """

    subject: str
    state: State
    text: str
    todo: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)
