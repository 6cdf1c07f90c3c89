"""Orbit ephemeris messages as lines: keywords and values, then states."""

from __future__ import annotations

import re
from collections.abc import Iterator

from passes.ephemeris.gathering import Gathered
from passes.errors import EphemerisError
from passes.streams import Damaged, lines

_BEGINS = re.compile(rb"\s*(COMMENT\b[^\n]*\n\s*)*CCSDS_[A-Z]{2,4}_VERS\s*=")
_VERSION = re.compile(r"CCSDS_([A-Z]{2,4})_VERS", re.ASCII)
_META = frozenset({"META_START", "META_STOP"})


def matches(data: bytes) -> bool:
    """Whether the text begins as a CCSDS message in keywords and values."""
    return _BEGINS.match(data[:65536]) is not None


def gather(data: bytes, gathered: Gathered) -> None:
    """Read every message of a text."""
    try:
        _gather(lines(data), gathered)
    except Damaged as error:
        raise EphemerisError(f"{gathered.where}:{error.line}", str(error)) from error


def _gather(numbered: Iterator[tuple[int, str]], gathered: Gathered) -> None:
    for number, line in numbered:
        where = f"{gathered.where}:{number}"
        key, equals, value = (part.strip() for part in line.partition("="))
        if line.split(maxsplit=1)[0] == "COMMENT":
            gathered.comment(line.removeprefix("COMMENT"))
        elif version := _VERSION.fullmatch(key):
            gathered.begin(where, version[1])
        elif line == "META_START":
            gathered.segment(where)
        elif line == "COVARIANCE_START":
            _skip_covariance(numbered, where)
        elif line in _META:
            gathered.ready(where)
        elif equals:
            gathered.field(where, key.upper(), value)
        else:
            epoch, *values = line.split()
            gathered.state(where, epoch, values)


def _skip_covariance(numbered: Iterator[tuple[int, str]], where: str) -> None:
    for _, line in numbered:
        if line == "COVARIANCE_STOP":
            return
    raise EphemerisError(where, "COVARIANCE_START without COVARIANCE_STOP")
