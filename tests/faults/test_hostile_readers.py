"""Hostile names on every way in: what a reader hands on is one harmless line."""

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar
from xml.sax.saxutils import escape

import pytest
from click.testing import CliRunner
from hostile.names import FEW, NAMES, core, harm
from hostile.scene import records

from passes.cli import cli
from passes.elements import read_text
from passes.ephemeris import read_messages
from passes.errors import PassesError
from passes.testing.elements import element_text

T = TypeVar("T")
LINES = element_text().splitlines()[1:3]


def tle(name: str) -> bytes:
    return "\n".join([name, *LINES, ""]).encode("utf-8", "surrogatepass")


def record(name: str) -> dict[str, Any]:
    (made, _) = records({"name": name})
    return made


def omm_json(name: str) -> bytes:
    return json.dumps([record(name)]).encode()


def omm_csv(name: str) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(record("")))
    writer.writeheader()
    writer.writerow(record(name))
    return out.getvalue().encode("utf-8", "surrogatepass")


def omm_kvn(name: str) -> bytes:
    rows = [f"{key} = {value}" for key, value in record(name).items()]
    return "\n".join(["CCSDS_OMM_VERS = 2.0", *rows, ""]).encode(
        "utf-8", "surrogatepass"
    )


def omm_xml(name: str) -> bytes:
    rows = [f"<{k}>{escape(str(v))}</{k}>" for k, v in record(name).items()]
    text = f"<ndm><omm><body><segment>{''.join(rows)}</segment></body></omm></ndm>"
    return text.encode("utf-8", "surrogatepass")


def refused(read: Callable[[], T]) -> T | str:
    """What was read, or what was said in its place."""
    try:
        return read()
    except PassesError as error:
        return str(error)


FORMS: dict[str, Callable[[str], bytes]] = {
    "TLE": tle,
    "OMM as JSON": omm_json,
    "OMM as CSV": omm_csv,
    "OMM as KVN": omm_kvn,
    "OMM as XML": omm_xml,
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("label", NAMES)
def test_a_name_is_read_as_one_harmless_line_or_told(form: str, label: str) -> None:
    content = FORMS[form](NAMES[label])
    reading = refused(lambda: read_text(content))
    if isinstance(reading, str):
        assert harm(reading) == ""
        assert form != "OMM as JSON"  # which has a way to write any sign
        return
    for skipped in reading.rejected:
        assert harm(f"{skipped.where}: {skipped.reason} {skipped.name}") == ""
    assert len(reading.catalogue) == 1 or reading.rejected
    for name in reading.catalogue.name:
        assert harm(name, allowed="") == ""
        assert core(name) in core(NAMES[label])


@pytest.mark.parametrize("label", NAMES)
def test_an_ephemeris_names_its_object_harmlessly(label: str, fixtures: Path) -> None:
    text = (fixtures / "ephemerides" / "station.oem").read_text("utf-8")
    (line,) = {one for one in text.splitlines() if one.startswith("OBJECT_NAME")}
    spoilt = text.replace(line, f"OBJECT_NAME = {NAMES[label]}")
    content = spoilt.encode("utf-8", "surrogatepass")
    found = refused(lambda: read_messages(content, "file"))
    if isinstance(found, str):
        assert harm(found) == ""
        return
    for message in found:
        for segment in message.segments:
            assert harm(segment.object_name, allowed="") == ""
            assert core(segment.object_name) in core(NAMES[label])


@pytest.mark.parametrize("label", FEW)
def test_a_header_of_an_image_steers_no_terminal(
    label: str, fixtures: Path, tmp_path: Path
) -> None:
    """The bytes of a name in a card, whatever the standard says of them."""
    pytest.importorskip("astropy")
    content = (fixtures / "fits" / "01-keywords.fits").read_bytes()
    start = content.index(b"OBJECT  =")
    raw = NAMES[label].replace("'", "''").encode("utf-8", "surrogatepass")[:60]
    card = (b"OBJECT  = '" + raw.ljust(8) + b"'").ljust(80)
    path = tmp_path / "sub.fits"
    path.write_bytes(content[:start] + card + content[start + 80 :])
    for form in ("table", "json", "csv"):
        args = ["streaks", "--demo", "--subs", str(path), "--all", "--format", form]
        result = CliRunner(env={"COLUMNS": "80"}).invoke(cli, args, prog_name="passes")
        assert harm(result.output) == ""
        assert result.exit_code == 0, result.output
