"""Lines of the pages and the help, typed in a folder that has what they name.

The clock stands in the invented scenario's evening, and its element sets are kept,
so that "tonight" is its night without ``--demo`` too.  What a line takes from a device
comes from a recording of one.
"""

import gzip
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, tzinfo
from importlib import resources
from pathlib import Path

import pytest
from click.testing import CliRunner
from session_plans import session_plan

from passes.cli import cli

NOW = datetime(2029, 3, 17, 20, 5, tzinfo=UTC)
PLAN = session_plan(12, site="ridge")
SITES = """
[defaults]
site = "ridge"

[sites.ridge]
latitude_deg = 41.0
longitude_deg = -2.4
height_m = 1150
zone = "Europe/Madrid"

[sites.camp]
latitude_deg = 41.1
longitude_deg = -2.4
"""
#: A line in the file that stands in for a device.
DEVICES = re.compile(r"/dev/tty\w+")


class StoppedClock(datetime):
    """A clock that stands at NOW."""

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> datetime:
        """The evening's, in the zone asked for."""
        return NOW.astimezone(tz)


def stop_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the program take it to be the scenario's evening."""
    monkeypatch.setattr("passes.forecast.asked.datetime", StoppedClock)
    monkeypatch.setattr("passes.cli.elements.datetime", StoppedClock)
    monkeypatch.setattr("passes.cli.archive.common.now", lambda: NOW)


def stock(folder: Path, root: Path) -> None:
    """Put into a folder every file that the pages and the help name."""
    demo = resources.files("passes") / "data" / "demo"
    sets = (demo / "elements.tle").read_bytes()
    for name in ("tonight.tle", "active.tle"):
        (folder / name).write_bytes(sets)
    (folder / "more.tle.gz").write_bytes(gzip.compress(sets))
    messages = (root / "fixtures/elements/readers/list.json").read_bytes()
    (folder / "new.json").write_bytes(messages)
    (folder / "extra.json.gz").write_bytes(gzip.compress(messages))
    for name in ("tonight.toml", "galaxy.toml", "m81.toml", "plan.toml"):
        (folder / name).write_text(PLAN)
    sites, fits = root / "fixtures/sites", root / "fixtures/fits"
    shutil.copy(sites / "arrival.nmea", folder / "fix.nmea")
    shutil.copy(sites / "ridge.csv", folder / "trees.csv")
    _enlarge(fits / "02-solved.fits", folder / "sub_042.fits", 104)
    shutil.copy(root / "fixtures/camera_stand_in.py", folder / "camera.py")
    (folder / "M81").mkdir()
    (folder / "rejected").mkdir()
    for file in (*fits.glob("0[123]-*.fits"), *fits.glob("05*.fz")):
        shutil.copy(file, folder / "M81" / file.with_suffix(".fits").name)
    (folder / "fixtures").symlink_to(root / "fixtures")


def _enlarge(small: Path, large: Path, times: int) -> None:
    """The same field with finer pixels, all of them nought and none on the disk."""
    text = small.read_bytes().decode("ascii", errors="replace")
    cards = [text[i : i + 80] for i in range(0, len(text), 80)]
    cards = cards[: cards.index("END".ljust(80))]
    read = {card[:8].strip(): card[10:].partition("/")[0].strip() for card in cards}
    finer: dict[str, float] = {"XPIXSZ": float(read["XPIXSZ"]) / times}
    for axis in "12":
        finer[f"NAXIS{axis}"] = int(read[f"NAXIS{axis}"]) * times
        finer[f"CRPIX{axis}"] = (float(read[f"CRPIX{axis}"]) - 0.5) * times + 0.5
        finer[f"PC{axis}_{axis}"] = float(read[f"PC{axis}_{axis}"]) / times
    for i, card in enumerate(cards):
        if (key := card[:8].strip()) in finer:
            cards[i] = f"{key:8}= {finer[key]:>20.12G}".ljust(80)
    head = "".join(card.ljust(80) for card in (*cards, "END"))
    block = -(-len(head) // 2880) * 2880
    data = -(-2 * int(finer["NAXIS1"]) * int(finer["NAXIS2"]) // 2880) * 2880
    with large.open("wb") as file:
        file.write(head.ljust(block).encode())
        file.truncate(block + data)


def settle(home: Path, sources: str = "") -> None:
    """A configuration with sites and rigs, and an archive with element sets."""
    rigs = resources.files("passes") / "data" / "demo" / "rigs.toml"
    config = home / ".config" / "passes" / "passes.toml"
    config.parent.mkdir(parents=True)
    config.write_text(SITES + rigs.read_text(encoding="utf-8") + sources)
    kept = CliRunner().invoke(cli, ["elements", "add", "tonight.tle"])
    assert kept.exit_code == 0, kept.output


def lines(code: str) -> Iterator[tuple[str, str]]:
    """Each line of a shell block without its remark, and the remark."""
    whole = re.sub(r"\\\n\s*", "", code)
    for line in filter(None, (one.strip() for one in whole.splitlines())):
        command, _, remark = line.partition("  #")
        yield command.strip(), remark.strip()


def enter(line: str, stdin: str = "y\n") -> tuple[int, str, str]:
    """Do what a shell does with a line: exit code, stdout, stderr of its last part.

    Pipes, ``<``, ``>`` and variables in front are understood.  ``cue`` runs by itself.
    """
    code, out, err = 0, stdin, ""
    for part in re.split(r" \| (?=\w)", DEVICES.sub("fix.nmea", line)):
        words = shlex.split(part)
        variables = dict(
            words.pop(0).split("=", 1) for _ in words if re.match("[A-Z_]+=", words[0])
        )
        if "<" in words:
            i = words.index("<")
            out = Path(words[i + 1]).read_text(encoding="utf-8")
            del words[i : i + 2]
        target = words[words.index(">") + 1] if ">" in words else ""
        words = words[: words.index(">")] if target else words
        code, out, err = _run(words, out, variables)
        if target:
            Path(target).write_text(out, encoding="utf-8")
    return code, out, err


def _run(
    words: list[str], stdin: str, variables: dict[str, str]
) -> tuple[int, str, str]:
    if words[:2] == ["passes", "cue"] or words[0] != "passes":
        words = [*([sys.executable, "-m"] if words[0] == "passes" else []), *words]
        done = subprocess.run(
            words, input=stdin, capture_output=True, text=True, timeout=120, check=False
        )
        return done.returncode, done.stdout, done.stderr
    result = CliRunner().invoke(
        cli, words[1:], input=stdin, env=variables, prog_name="passes"
    )
    return result.exit_code, result.stdout, result.stderr
