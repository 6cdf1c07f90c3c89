"""The one writer of output: table, JSON, CSV, and any exporter that accepts it."""

from __future__ import annotations

import codecs
import os
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passes.errors import PassesError
from passes.options.running import Decorator, Program, program, with_options

if TYPE_CHECKING:
    from passes.contributions import Exporter
    from passes.model import Site, Span
    from passes.registry import Provided
    from passes.tables import Screen

_SUFFIXES = {".txt": "table", ".json": "json", ".csv": "csv"}
#: How signs read where the terminal's encoding lacks them.
_SPELT = {"±": "+-", "°": " deg", "–": "-", "−": "-", "…": "...", "′": "'", "″": '"'}


@dataclass(frozen=True, slots=True)
class Output:
    """Where an answer goes and in which form; made by :func:`writes`."""

    kind: str
    format: str
    path: Path | None
    run: Program
    exporter: Provided[Exporter] | None = None

    def write(
        self,
        *,
        table: Callable[[Screen], str],
        document: Callable[[], Mapping[str, Any]],
        records: Callable[[], Iterable[Mapping[str, Any]]] | None = None,
        columns: Sequence[str] = (),
        items: Callable[[], Sequence[Any]] = tuple,
        site: Site | None = None,
        window: Span | None = None,
        demo: bool = False,
    ) -> None:
        """Write the answer; only the form that is asked for is made.

        ``table`` makes the page for people, ``document`` the JSON, ``records`` the
        rows of CSV (``columns`` head an empty one), ``items`` what exporters get.
        Raises PassesError where the output cannot be written.
        """
        from passes.options.formats import csv_text, json_bytes

        if self.format == "table":
            self._emit_table(table)
        elif self.format == "json":
            indented = self.path is None and _is_terminal()
            self._emit(json_bytes(document(), indented=indented))
        elif self.format == "csv" and records is not None:
            self._emit(csv_text(records(), columns, demo).encode())
        else:
            self._emit(self._exported(document, items, site, window, demo).encode())

    def _emit_table(self, table: Callable[[Screen], str]) -> None:
        from passes.tables import Screen

        if self.path is not None:
            self._emit(_ended(table(Screen(width=100))).encode())
            return
        text = _ended(table(self.run.screen(sys.stdout)))
        self._emit(encoded(text, getattr(sys.stdout, "encoding", None)))

    def _exported(
        self,
        document: Callable[[], Mapping[str, Any]],
        items: Callable[[], Sequence[Any]],
        site: Site | None,
        window: Span | None,
        demo: bool,
    ) -> str:
        from passes.contributions import Answer

        assert self.exporter is not None
        plugin = self.exporter.origin.plugin
        answer = Answer(
            kind=self.kind,
            items=items(),
            document=document(),
            site=site,
            window=window,
            demo=demo,
            settings={} if demo else self.run.config().settings(plugin),
        )
        from passes.registry import ask

        return self.run.registry().requested(
            self.exporter, lambda exporter: ask(exporter, answer)
        )

    def _emit(self, content: bytes) -> None:
        self.run.quiet()
        if self.path is None:
            to_stdout(content)
            return
        from passes.options.files import write_whole
        from passes.tables import plain

        write_whole(self.path, content)
        self.run.say(f"wrote {plain(str(self.path), 400)}")


def _ended(text: str) -> str:
    """A page ends with the end of its last line."""
    return text if text.endswith("\n") or not text else f"{text}\n"


def _is_terminal() -> bool:
    return sys.stdout is not None and not sys.stdout.closed and sys.stdout.isatty()


def to_stdout(content: bytes) -> None:
    """Data to stdout, all of it; a reader that has gone away ends the run quietly.

    Raises PassesError where stdout is closed or full, BrokenPipeError where nobody
    reads any more.
    """
    try:
        sys.stdout.flush()
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        raise
    except (OSError, ValueError, AttributeError) as error:
        reason = getattr(error, "strerror", None) or "it is closed"
        raise PassesError(f"cannot write to standard output: {reason}") from error


def encoded(text: str, encoding: str | None) -> bytes:
    """Text in a terminal's encoding; signs that it lacks are spelt out."""
    codecs.register_error("passes.spelt", _spell)
    return text.encode(encoding or "utf-8", errors="passes.spelt")


def _spell(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)
    missing = error.object[error.start : error.end]
    return "".join(_SPELT.get(sign, "?") for sign in missing), error.end


def writes(
    kind: str, *, csv: bool = True, page_suffixes: Sequence[str] = ()
) -> Decorator:
    """Give a command ``--format``, ``--json`` and ``--output``, and an ``output``.

    ``kind`` is what exporters accept (``passes``, ``track`` …); ``csv`` whether the
    answer has rows; ``page_suffixes`` are those beside ``.txt`` that ask for the page
    for people.  Put it above :func:`passes.options.asks`, so that an output that
    cannot be written is refused before any work begins.
    """

    def decorate(function: Callable[..., Any]) -> Any:
        @wraps(function)
        def wrapper(*args: Any, **values: Any) -> Any:
            form, as_json = values.pop("form"), values.pop("as_json")
            suffixes = _suffixes(csv, page_suffixes)
            path = values.pop("output_path")
            output = _chosen(kind, suffixes, form, as_json, path)
            return function(*args, output=output, **values)

        return with_options(wrapper, _OPTIONS)

    return decorate


_OPTIONS: tuple[Decorator, ...] = (
    click.option(
        "--format",
        "form",
        metavar="NAME",
        help="table, json, csv, or a format that a plugin adds.",
    ),
    click.option("--json", "as_json", is_flag=True, help="Short for --format json."),
    click.option(
        "--output",
        "output_path",
        type=click.Path(path_type=Path, allow_dash=True),
        metavar="FILE",
        help="Write there, whole or not at all; the suffix picks the format.",
    ),
)


def _suffixes(csv: bool, page_suffixes: Sequence[str]) -> dict[str, str]:
    """The forms of our own that a command has, by suffix."""
    forms = {**_SUFFIXES, **dict.fromkeys(page_suffixes, "table")}
    return {key: form for key, form in forms.items() if csv or form != "csv"}


def _chosen(
    kind: str,
    suffixes: Mapping[str, str],
    form: str | None,
    as_json: bool,
    path: Path | None,
) -> Output:
    """Settle the form and check that it can be written, before any work."""
    run = program()
    if as_json and form not in (None, "json"):
        raise click.UsageError(f"--json and --format {form} contradict each other")
    path = None if path is None or str(path) == "-" else path
    own = list(dict.fromkeys(suffixes.values()))
    name = "json" if as_json else form
    exporter = None
    if name is None:
        name, exporter = _by_suffix(run, kind, suffixes, path)
    elif name not in own:
        exporter = _by_name(run, kind, own, name)
    if path is not None:
        from passes.options.files import check_writable

        check_writable(path)
    return Output(kind=kind, format=name, path=path, run=run, exporter=exporter)


def _exporters(run: Program, kind: str) -> list[Provided[Exporter]]:
    from passes.contributions import Exporter

    offered = run.registry().of(Exporter)
    return [one for one in offered if kind in one.item.accepts]


def _by_name(
    run: Program, kind: str, own: Sequence[str], name: str
) -> Provided[Exporter]:
    exporters = {one.item.name: one for one in _exporters(run, kind)}
    if name not in exporters:
        known = ", ".join([*own, *sorted(exporters)])
        raise click.UsageError(f"no format {name!r} for this (there are: {known})")
    return exporters[name]


def _by_suffix(
    run: Program, kind: str, own: Mapping[str, str], path: Path | None
) -> tuple[str, Provided[Exporter] | None]:
    suffix = path.suffix.lower() if path is not None else ""
    if not suffix or suffix in own:
        return own.get(suffix, "table"), None
    exporters = _exporters(run, kind)
    for one in exporters:
        if suffix in one.item.suffixes:
            return one.item.name, one
    known = [*own, *sorted({s for one in exporters for s in one.item.suffixes})]
    raise click.UsageError(
        f"{path and os.fspath(path)}: no format has the suffix {suffix}"
        f" (there are: {', '.join(known)}); add --format NAME"
    )
