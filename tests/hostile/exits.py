"""Each way out of the program: command lines, and the reader of what they write."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from hostile import readers
from hostile.names import core, harm
from hostile.scene import DATE, STATION, tame, write
from passes.cli import cli

_NIGHT = f"--elements ELEMENTS --site SITE --date {DATE}"
_TONIGHT = f"tonight {_NIGHT}"
_TRANSITS = (
    "transits --elements ELEMENTS --site SITE --date 2029-03-20 --reach 30 --body moon"
)
_STREAKS = "streaks PLAN --elements ELEMENTS --all"
_SCHEDULE = f"schedule {_NIGHT} --plan PLAN --all --limit 40"
_TRACK = f"track {_NIGHT} --object {STATION}"
#: So much of a name a narrow column still shows.
_HEAD = 5


@dataclass(frozen=True)
class Exit:
    """One way out; ``names`` are shown for every object, else for some."""

    lines: tuple[str, ...]
    read: readers.Reader
    whole: bool = False
    every: bool = True


EXITS = {
    "tables": Exit(
        (
            f"{_TONIGHT} --all",
            "elements check ELEMENTS",
            _TRANSITS,
            f"{_STREAKS}",
            _SCHEDULE,
            f"advise {_NIGHT} --best --rig RIG",
        ),
        readers.page,
    ),
    "CSV": Exit(
        (
            f"{_TONIGHT} --all --format csv",
            f"{_TRANSITS} --format csv",
            f"{_STREAKS} --format csv",
            f"{_SCHEDULE} --format csv",
        ),
        readers.table,
    ),
    "JSON": Exit(
        (
            f"{_TONIGHT} --all --json",
            f"{_TRANSITS} --json",
            f"{_STREAKS} --json",
            f"{_SCHEDULE} --json",
        ),
        readers.document,
        whole=True,
    ),
    "JSON Lines": Exit((f"{_SCHEDULE} --format jsonl",), readers.lines, every=False),
    "HTML": Exit(
        (f"sheet {_NIGHT} --plan PLAN --limit 60 --cards 2 --transit-days 3",),
        readers.html,
        every=False,
    ),
    "SVG": Exit(
        (
            f"{_TONIGHT} --limit 200 --chart sky.svg",
            f"{_TONIGHT} --limit 200 --plan PLAN --chart timeline.svg",
            f"{_TRANSITS} --chart disc.svg",
            f"{_TRANSITS} --chart strip.svg",
            f"{_STREAKS} --chart session.svg",
            f"{_STREAKS} --chart frame.svg",
            f"{_TRACK} --chart pass.svg",
        ),
        readers.drawing,
        every=False,
    ),
    "KML": Exit((f"{_TRANSITS} --format kml",), readers.kml),
    "GPX": Exit((f"{_TRANSITS} --format gpx",), readers.gpx),
    "GeoJSON": Exit((f"{_TRANSITS} --format geojson",), readers.geojson),
    "iCalendar": Exit(
        (
            f"{_TONIGHT} --all --format icalendar",
            f"{_SCHEDULE} --format icalendar-steps",
        ),
        readers.calendar,
    ),
}


@dataclass(frozen=True)
class Answer:
    """What one command line said, and wrote to a chart."""

    content: bytes
    talk: str
    code: int


class Trial:
    """Some names sent through the program, and as many harmless ones beside them."""

    def __init__(self, folder: Path, names: Mapping[str, str]) -> None:
        self.names = names
        self._scenes = {
            "hostile": write(folder / "hostile", names),
            "tame": write(folder / "tame", tame(names)),
        }
        self._taken: dict[str, readers.Taken] = {}

    def answer(self, line: str, kind: str = "hostile") -> Answer:
        """Run one command line of a scene, as a terminal of 80 columns sees it."""
        scene = self._scenes[kind]
        args = scene.filled(line)
        drawn = scene.folder / "no chart"
        if "--chart" in args:
            place = args.index("--chart") + 1
            drawn = scene.folder / args[place]
            args[place] = str(drawn)
        environment = {"COLUMNS": "80", "HOME": str(scene.folder)}
        result = CliRunner(env=environment).invoke(cli, args, prog_name="passes")
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        content = drawn.read_bytes() if drawn.is_file() else result.stdout_bytes
        return Answer(content, result.stderr, result.exit_code)

    def taken(self, name: str, line: str) -> readers.Taken:
        """What one command line gave; what names did to its shape is its trouble."""
        if line not in self._taken:
            self._taken[line] = self._take(name, line)
        return self._taken[line]

    def _take(self, name: str, line: str) -> readers.Taken:
        hostile, meek = self.answer(line), self.answer(line, "tame")
        if hostile.code or meek.code:
            said = f"exit {hostile.code}, {meek.code}: {hostile.talk or meek.talk}"
            return readers.Taken(trouble=[said])
        found, other = (EXITS[name].read(one.content) for one in (hostile, meek))
        if found.shape != other.shape:
            found.trouble.append("names changed the shape")
        if wrong := harm(hostile.talk):
            found.trouble.append(f"on stderr: {wrong}")
        found.texts = [core(text) for text in found.texts]
        return found

    def troubles(self, name: str) -> list[str]:
        """What is wrong with a way out."""
        return [
            f"{line}: {trouble}"
            for line in EXITS[name].lines
            for trouble in dict.fromkeys(self.taken(name, line).trouble)
        ]

    def lost(self, name: str) -> list[str]:
        """Names that did not come out as data, as much of them as there is room for."""
        return [label for label in self.names if not self._arrived(name, label)]

    def _arrived(self, name: str, label: str) -> bool:
        way, wanted = EXITS[name], core(self.names[label])
        if not wanted:  # a nameless object goes by its number
            if name == "HTML":  # no class, so too faint to be worth a place there
                return True
            wanted = str(STATION + list(self.names).index(label))
        head = wanted if way.whole else wanted[:_HEAD]
        return any(
            head in text for line in way.lines for text in self.taken(name, line).texts
        )
