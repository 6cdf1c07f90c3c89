"""The place that a receiver tells, from its NMEA 0183 sentences."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from passes.errors import InputError
from passes.options.running import program
from passes.options.types import machine_zone

if TYPE_CHECKING:
    from passes.model import Site
    from passes.nmea import Received

#: A receiver's file that is larger is something else, bytes.
_MOST = 16 * 1024 * 1024


def received_place(file: str) -> Site:
    """The place of the best fix in a file, or in stdin where ``file`` is ``-``.

    Sentences that cannot be used, and a missing height, are told on stderr.  Raises
    InputError where there is no fix, or the file cannot be read.
    """
    from passes.model import Site

    received = _received(file)
    fix = received.best
    if fix is None:
        raise InputError(f"{file}: {_no_fix(received)}")
    run = program()
    if received.problems:
        line, why = received.problems[0]
        run.say(
            f"passes: {file}:{line}: {why}; {len(received.problems)} of "
            f"{received.sentences} sentences not used"
        )
    height = fix.height_m if fix.height_m == fix.height_m else fix.sea_level_m
    known = height == height
    if not known:
        run.say(f"passes: {file}: no height in these sentences; 0 m taken")
    return Site(
        latitude_deg=fix.latitude_deg,
        longitude_deg=fix.longitude_deg,
        height_m=round(height, 1) if known else 0.0,
        zone=machine_zone(),
    )


def _received(file: str) -> Received:
    from passes.nmea import read_nmea

    try:
        if file == "-":
            content = sys.stdin.buffer.read(_MOST + 1)
        else:
            with open(file, "rb") as stream:
                content = stream.read(_MOST + 1)
    except OSError as error:
        raise InputError(f"{file}: {error.strerror or error}") from error
    if len(content) > _MOST:
        raise InputError(f"{file}: over {_MOST // 1024**2} MiB; give a shorter stretch")
    return read_nmea(content.decode("ascii", errors="replace"))


def _no_fix(received: Received) -> str:
    if not received.sentences:
        return "no NMEA 0183 sentence in it (lines that begin with $)"
    if received.problems:
        line, why = received.problems[-1]
        return f"no position in it: line {line}: {why}"
    return "no position in it: none of its sentences is GGA or RMC"
