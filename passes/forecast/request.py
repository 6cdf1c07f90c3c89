"""What a command asks for, as one record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import BinaryIO

from passes.model import Site


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """Where, when and of what; a field left alone has its usual meaning.

    ``site`` or ``site_name`` says where (a name is looked up in the configuration, or
    in the demo); ``date`` is the local evening; ``start`` and ``end`` replace the
    night by a window.  ``element_files`` are read instead of the archive;
    ``ephemeris_files`` are operators' ephemerides; ``max_bytes`` of each file are read.
    ``progress`` is called with (what, done, total).
    """

    site: Site | None = None
    site_name: str = ""
    date: date | None = None
    start: datetime | None = None
    end: datetime | None = None
    element_files: tuple[str, ...] = ()
    ephemeris_files: tuple[str, ...] = ()
    max_bytes: int | None = None
    archive: Path | None = None
    objects: tuple[str, ...] = ()
    rigs: tuple[str, ...] = ()
    demo: bool = False
    min_altitude_deg: float = 10.0
    sun_below_deg: float | None = None
    late_by_s: float | None = None
    strict: bool = False
    processes: int = 1
    brightness: str | None = None
    now: datetime | None = None
    stdin: BinaryIO | None = field(default=None, repr=False)
    progress: Callable[[str, int, int], None] | None = field(default=None, repr=False)
