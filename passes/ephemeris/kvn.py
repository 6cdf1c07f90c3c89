"""Orbit ephemeris messages as lines: keywords and values, then states."""

from __future__ import annotations

import re
from collections.abc import Iterator

from passes.ephemeris.gathering import Gathered
from passes.errors import EphemerisError

_BEGINS = re.compile(rb"\s*(COMMENT\b[^\n]*\n\s*)*CCSDS_[A-Z]{2,4}_VERS\s*=")
_VERSION = re.compile(r"CCSDS_([A-Z]{2,4})_VERS", re.ASCII)
_META = frozenset({"META_START", "META_STOP"})


def matches(data: bytes) -> bool:
    """Whether the text begins as a CCSDS message in keywords and values."""
    return _BEGINS.match(data[:65536]) is not None


def gather(text: str, gathered: Gathered) -> None:
    """Read every message of a text."""
    lines = _lines(text)
    for number, line in lines:
        where = f"{gathered.where}:{number}"
        key, equals, value = (part.strip() for part in line.partition("="))
        if line.split(maxsplit=1)[0] == "COMMENT":
            gathered.comment(line.removeprefix("COMMENT"))
        elif version := _VERSION.fullmatch(key):
            gathered.begin(where, version[1])
        elif line == "META_START":
            gathered.segment(where)
        elif line == "COVARIANCE_START":
            _skip_covariance(lines, where)
        elif line in _META:
            gathered.ready(where)
        elif equals:
            gathered.field(where, key.upper(), value)
        else:
            epoch, *values = line.split()
            gathered.state(where, epoch, values)


def _lines(text: str) -> Iterator[tuple[int, str]]:
    for number, raw in enumerate(text.splitlines(), start=1):
        if line := raw.strip():
            yield number, line


def _skip_covariance(lines: Iterator[tuple[int, str]], where: str) -> None:
    for _, line in lines:
        if line == "COVARIANCE_STOP":
            return
    raise EphemerisError(where, "COVARIANCE_START without COVARIANCE_STOP")
