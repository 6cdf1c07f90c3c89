"""Charts of a command: where to, which one, and drawn only when asked for."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from passes.options.running import Decorator, Program, program, with_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette

#: Draws one figure in the colours of a theme.
Draw = Callable[["Palette"], "Figure"]


@dataclass(frozen=True, slots=True)
class Chart:
    """The chart that was asked for, if any; made by :func:`draws`."""

    path: Path | None
    figure: str
    run: Program
    east: Literal["left", "right"] = "left"

    def write(self, figures: Mapping[str, Draw], described: str = "") -> None:
        """Draw the figure asked for and write it; nothing where none was asked for.

        ``described`` is what the file says of itself.  Raises PassesError where the
        file cannot be written.
        """
        if self.path is None:
            return
        from passes.charts.paper import content, format_of
        from passes.charts.theme import palette
        from passes.options.files import write_whole
        from passes.tables import plain

        figure = figures[self.figure](palette(self.run.theme))
        write_whole(self.path, content(figure, format_of(self.path), described))
        self.run.say(f"drew {self.figure}: {plain(str(self.path), 400)}")


def draws(*figures: str, east: bool = False) -> Decorator:
    """Give a command ``--chart``, and a ``chart`` to write with.

    ``figures`` names what it can draw, the usual one first; ``east`` adds ``--east``.
    Put it above :func:`passes.options.asks`, so that a file that cannot be written is
    refused before any work begins.
    """
    options = [_chart(figures), *([_figure(figures)] if len(figures) > 1 else [])]
    options += [_EAST] if east else []

    def decorate(function: Callable[..., Any]) -> Any:
        @wraps(function)
        def wrapper(*args: Any, **values: Any) -> Any:
            path = values.pop("chart_path")
            name = values.pop("figure_name", None)
            side = values.pop("east", None)
            _check(path, name, side)
            name = name or _named_by(path, figures)
            chart = Chart(path, name, program(), side or "left")
            return function(*args, chart=chart, **values)

        return with_options(wrapper, options)

    return decorate


def _named_by(path: Path | None, figures: tuple[str, ...]) -> str:
    """The figure that a file is called after, else the usual one."""
    stem = path.stem.lower() if path is not None else ""
    return stem if stem in figures else figures[0]


def _chart(figures: tuple[str, ...]) -> Decorator:
    return click.option(
        "--chart",
        "chart_path",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help=f"Draw the {figures[0]} there too: .png, .svg or .pdf.",
    )


def _figure(figures: tuple[str, ...]) -> Decorator:
    return click.option(
        "--figure",
        "figure_name",
        type=click.Choice(figures),
        help=f"What to draw. Default: what FILE is called after, else {figures[0]}.",
    )


_EAST = click.option(
    "--east",
    type=click.Choice(["left", "right"]),
    help="Which side east is on in a chart of the sky: left as seen overhead "
    "(default), right as on a map.",
)


def _check(path: Path | None, name: str | None, side: str | None) -> None:
    """Refuse now what could not be drawn or written later."""
    if path is None:
        for option, given in (("--figure", name), ("--east", side)):
            if given is not None:
                raise click.UsageError(f"{option} belongs to --chart FILE")
        return
    from passes.charts.paper import format_of
    from passes.options.files import check_writable

    format_of(path)
    other = click.get_current_context().params.get("output_path")
    if other is not None and os.path.realpath(other) == os.path.realpath(path):
        raise click.UsageError(f"{path}: --chart and --output are the same file")
    check_writable(path)
