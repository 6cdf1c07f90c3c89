"""Documents, files and arguments that mean harm, and what the program says to them."""

from __future__ import annotations

import gzip
import json
import math
import os
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from passes.cli import cli
from passes.testing.elements import element_text

_RECORD = {
    "OBJECT_NAME": "TAME",
    "OBJECT_ID": "2027-001A",
    "EPOCH": "2029-03-17T00:00:00",
    "MEAN_MOTION": 15.5,
    "ECCENTRICITY": 0.001,
    "INCLINATION": 50,
    "RA_OF_ASC_NODE": 1,
    "ARG_OF_PERICENTER": 2,
    "MEAN_ANOMALY": 3,
    "NORAD_CAT_ID": 80901,
    "BSTAR": 0.0001,
}
_MIB = 2**20


@dataclass(frozen=True)
class Case:
    """One attempt: the file's name and content, the command line, what must be said.

    FILE in the command stands for the file; ``code`` is the exit code.
    """

    kind: str
    what: str
    command: str
    content: Callable[[], bytes]
    words: str
    code: int = 1
    name: str = "file"

    def outcome(self, folder: Path) -> tuple[int, str]:
        """Exit code, and all that was said."""
        path = folder / self.name
        path.write_bytes(self.content())
        args = [str(path) if word == "FILE" else word for word in self.command.split()]
        environment = {"COLUMNS": "80", "HOME": str(folder)}
        result = CliRunner(env=environment).invoke(cli, args, prog_name="passes")
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result.exit_code, result.output.replace(str(path), "FILE")


def _text(text: str) -> Callable[[], bytes]:
    return lambda: text.encode("utf-8", "surrogatepass")


def _message(**fields: Any) -> Callable[[], bytes]:
    return lambda: json.dumps([{**_RECORD, **fields}]).encode()


def _number(written: str) -> Callable[[], bytes]:
    """The message with a mean motion that no Python value is written as."""
    return lambda: json.dumps([_RECORD]).replace("15.5", written).encode()


def _bomb() -> bytes:
    """A gibibyte of blanks in a mebibyte."""
    squeeze = zlib.compressobj(9, wbits=31)
    parts = [squeeze.compress(b" " * _MIB) for _ in range(1024)]
    return b"".join([*parts, squeeze.flush()])


def _cut_off() -> bytes:
    """Element sets of which the end is missing."""
    return gzip.compress(element_text().encode() * 2000)[:-9]


def _xml(declared: str, body: str) -> Callable[[], bytes]:
    head = f'<?xml version="1.0"?><!DOCTYPE l [{declared}]>' if declared else ""
    return _text(f"{head}<ndm><omm>{body}</omm></ndm>")


def _laughs() -> str:
    """Nine entities, each ten of the one before: a gigabyte if they were expanded."""
    steps = (f'<!ENTITY a{i + 1} "{f"&a{i};" * 10}">' for i in range(9))
    return '<!ENTITY a0 "ha">' + "".join(steps)


_CHECK = "elements check FILE"
_SITES = "site list --config FILE"
_PLAN = "streaks FILE --demo"
_REFUSED = "declares a document type or entities, which are not read"


def _site(**keys: str) -> Callable[[], bytes]:
    values = {"latitude_deg": "1", "longitude_deg": "1", **keys}
    lines = [f"{key} = {value}" for key, value in values.items()]
    return _text("\n".join(["[sites.a]", *lines, ""]))


def _plan(**keys: str) -> Callable[[], bytes]:
    session = {"start": "2029-03-17T20:00:00Z", "subs": "9", "exposure_s": "1"}
    lines = [f"{key} = {value}" for key, value in (session | keys).items()]
    target = '[target]\nname = "a"\nra_deg = 1\ndec_deg = 2\n'
    return _text("\n".join(["[session]", *lines, target]))


CASES = (
    Case("XML", "entities that expand", _CHECK, _xml(_laughs(), "&a9;"), _REFUSED),
    Case(
        "XML",
        "an entity from a file",
        _CHECK,
        _xml('<!ENTITY x SYSTEM "file:///etc/passwd">', "&x;"),
        _REFUSED,
    ),
    Case(
        "XML",
        "an entity from the web",
        _CHECK,
        _xml('<!ENTITY % x SYSTEM "http://127.0.0.1:9/"> %x;', ""),
        _REFUSED,
    ),
    Case(
        "XML",
        "a file included",
        _CHECK,
        _xml(
            "",
            '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" '
            'href="file:///etc/passwd" parse="text"/>',
        ),
        "record 1: NORAD_CAT_ID is missing",
        0,
    ),
    Case("XML", "100,000 deep", _CHECK, _xml("", "<a>" * 100_000), "too deeply"),
    Case(
        "XML",
        "an ephemeris with entities",
        "tonight --demo --ephemeris FILE",
        _xml(_laughs(), "&a9;"),
        _REFUSED,
    ),
    Case("gzip", "a gibibyte of blanks", _CHECK, _bomb, "more than 64 MiB (expanded)"),
    Case(
        "gzip",
        "packed twice",
        _CHECK,
        lambda: gzip.compress(gzip.compress(b"x" * 100)),
        "is a binary file",
    ),
    Case("gzip", "cut off", _CHECK, _cut_off, "the gzip file is damaged", 0),
    Case("JSON", "NaN", _CHECK, _message(MEAN_MOTION=math.nan), "not a finite", 0),
    Case("JSON", "Infinity", _CHECK, _message(BSTAR=-math.inf), "not a finite", 0),
    Case("JSON", "1e999", _CHECK, _number("1e999"), "not a finite", 0),
    Case("JSON", "1e308", _CHECK, _number("1e308"), "is impossible (up to 100)", 0),
    Case(
        "JSON",
        "5000 digits",
        _CHECK,
        _number("1" * 5000),
        "a number of thousands of digits",
        0,
    ),
    Case(
        "JSON",
        "a number of 31 digits",
        _CHECK,
        _message(NORAD_CAT_ID=10**30),
        "out of range",
        0,
    ),
    Case(
        "JSON",
        "a list for a number",
        _CHECK,
        _message(INCLINATION=[50]),
        "INCLINATION [50] is not a number",
        0,
    ),
    Case("JSON", "lists 100,000 deep", _CHECK, _text("[" * 100_000), "too deeply"),
    Case(
        "JSON", "objects 100,000 deep", _CHECK, _text('{"a":' * 100_000), "too deeply"
    ),
    Case(
        "TOML", "a number for a section", _SITES, _text("sites = 3\n"), "want a table"
    ),
    Case(
        "TOML", "text for a number", _SITES, _site(latitude_deg='"x"'), "want a number"
    ),
    Case(
        "TOML", "true for a number", _SITES, _site(latitude_deg="true"), "want a number"
    ),
    Case("TOML", "nan", _SITES, _site(latitude_deg="nan"), "nan° is impossible"),
    Case("TOML", "inf", _SITES, _site(latitude_deg="inf"), "want a finite number"),
    Case("TOML", "1e400", _SITES, _site(latitude_deg="1e400"), "want a finite number"),
    Case("TOML", "2 to the 80th", _SITES, _site(height_m=str(2**80)), "64 bits"),
    Case(
        "TOML", "a day for a number", _SITES, _site(height_m="2029-03-17"), "a number"
    ),
    Case("TOML", "a number for text", _SITES, _site(zone="3"), "want text in quotes"),
    Case(
        "TOML",
        "a zone up the tree",
        _SITES,
        _site(zone='"../../../etc/passwd"'),
        "no time",
    ),
    Case(
        "TOML",
        "a name with an escape",
        _SITES,
        _text('[sites."\\u001b[31m"]\nlatitude_deg = 1\nlongitude_deg = 1\n'),
        "cannot be typed",
    ),
    Case("TOML", "5000 lists deep", _SITES, _text(f"a = {'[' * 5000}"), "too deeply"),
    Case(
        "TOML", "5000 digits", _SITES, _text(f"a = {'1' * 5000}"), "thousands of digits"
    ),
    Case("TOML", "not UTF-8", _SITES, lambda: b"\xff\xfe = 1", "not UTF-8"),
    Case("plan", "text for a number", _PLAN, _plan(subs='"x"'), "want a number", 2),
    Case(
        "plan", "an endless exposure", _PLAN, _plan(exposure_s="inf"), "impossible", 2
    ),
    Case("plan", "10^21 subs", _PLAN, _plan(subs="1" + "0" * 21), "64 bits", 2),
    Case(
        "plan",
        "the year 9999",
        _PLAN,
        _plan(start="9999-12-31T23:59:59Z"),
        "the year 9999 is impossible",
        2,
    ),
    Case("plan", "5000 lists deep", _PLAN, _text(f"a = {'[' * 5000}"), "too deeply", 2),
    Case(
        "schedule",
        "a number of 5000 digits",
        "cue FILE --rehearse",
        _text('{"time": "2029-03-17T20:00:00Z", "event": ' + "1" * 5000 + "}\n"),
        "not one step in it",
        2,
    ),
    Case(
        "schedule",
        "objects 100,000 deep",
        "cue FILE --rehearse",
        _text('{"a":' * 100_000),
        "not one step in it",
        2,
    ),
    Case(
        "file name",
        "escapes, a newline, other bytes",
        "elements check FILE",
        _text("TAME\n"),
        "holds no element sets",
        1,
        "a\x1b[31m\u202e\nb" + os.fsdecode(b"\xff"),
    ),
)
