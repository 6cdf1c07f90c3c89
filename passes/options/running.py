"""What holds for the whole run of the program, and how it talks on stderr.

The four options for this (``--config``, ``--archive``, ``--verbose``, ``--theme``) may
stand before or after the command, so each command gets them too.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from passes.config import Config
    from passes.elements import Skipped
    from passes.registry import Registry
    from passes.tables import Screen, Theme

Command = TypeVar("Command", bound=click.Command)
Decorator = Callable[[Callable[..., Any]], Any]

_KEY = "passes.program"
_PLUGIN = "passes.plugin"
#: Work that takes less than this is not worth a line of progress, seconds.
_PATIENCE_S = 1.0
_EVERY_S = 0.1
#: How many bad records are told one by one.
_SHOWN = 10


@dataclass(slots=True)
class Program:
    """The choices of one run; configuration and plugins are read when first asked."""

    config_path: Path | None = None
    archive: Path | None = None
    verbose: bool = False
    theme: Theme = ""
    commands: tuple[str, ...] = ()
    progress: Progress | None = field(default=None, repr=False)
    _config: Config | None = field(default=None, repr=False)
    _registry: Registry | None = field(default=None, repr=False)

    def config(self) -> Config:
        """The person's configuration, read once."""
        if self._config is None:
            self._config = self._loaded()
        return self._config

    def _loaded(self) -> Config:
        """The configuration; former names of its keys are told on stderr."""
        import warnings

        from passes.config import load

        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always", DeprecationWarning)
            config = load(self.config_path)
        for told in caught:
            self.say(f"passes: {told.message}")
        return config

    def registry(self) -> Registry:
        """The installed plugins, found once."""
        if self._registry is None:
            from passes.registry import Registry

            self._registry = Registry.from_entry_points(commands=self.commands)
            for name in self._registry.unknown_disabled:
                self.say(f"passes: PASSES_DISABLE_PLUGINS: no plugin is named {name!r}")
        return self._registry

    def archive_path(self) -> Path | None:
        """The archive that was named, on the command line or in the configuration."""
        if self.archive is not None:
            return self.archive
        named = self.config().defaults.archive
        return Path(os.path.expanduser(named)) if named else None

    def screen(self, stream: Any) -> Screen:
        """What is known of a stream that a person reads."""
        from passes.tables import Screen

        return Screen.of(stream, self.theme)

    def say(self, text: str) -> None:
        """A line of talk on stderr, harmless whatever stands in it."""
        from passes.model.text import legible

        self.quiet()
        text = legible(text)
        if sys.stderr is not None:
            screen = self.screen(sys.stderr)
            red = screen.styled and screen.theme == "red"
            click.echo(screen.finish([text]) if red else text, err=True, nl=not red)

    def quiet(self) -> None:
        """Take away a line of progress before anything else is written."""
        if self.progress is not None:
            self.progress.clear()

    def tell_problems(self) -> None:
        """What went wrong with plugins, one line each on stderr."""
        if self._registry is not None:
            for line in self._registry.news():
                self.say(f"passes: {line}")

    def tell_rejected(self, rejected: Sequence[Skipped]) -> None:
        """Bad element sets, one line each: ten of them, or all with ``--verbose``."""
        from passes.tables import plain

        shown = rejected if self.verbose else rejected[:_SHOWN]
        for one in shown:
            self.say(f"passes: {plain(f'{one.where}: {one.reason}', 400)}")
        if len(rejected) > len(shown):
            self.say(f"passes: and {len(rejected) - len(shown)} more (--verbose: all)")


def program(ctx: click.Context | None = None) -> Program:
    """The run that the current command belongs to."""
    ctx = ctx or click.get_current_context()
    found = ctx.meta.setdefault(_KEY, Program())
    assert isinstance(found, Program)
    return found


def bind(ctx: click.Context, run: Program) -> Program:
    """Make this the run that the context and all below it belong to."""
    ctx.meta[_KEY] = run
    return run


def asking_plugin(ctx: click.Context) -> str:
    """The plugin whose command is running, or nothing."""
    return str(ctx.meta.get(_PLUGIN, ""))


def mark_plugin(ctx: click.Context, plugin: str) -> None:
    """Note which plugin the command comes from that is about to run."""
    ctx.meta[_PLUGIN] = plugin


def _keep(ctx: click.Context, param: click.Parameter, value: Any) -> None:
    """Put the value of a global option where the whole run sees it."""
    given = ctx.get_parameter_source(param.name or "")
    if given is not click.core.ParameterSource.DEFAULT:
        setattr(program(ctx), param.name or "", value)


def global_options() -> list[click.Option]:
    """The four options that every command takes, made anew for each."""
    file = click.Path(path_type=Path, dir_okay=False)
    common: dict[str, Any] = {
        "expose_value": False,
        "callback": _keep,
        "is_eager": True,
    }
    return [
        click.Option(
            ["--config", "config_path"],
            type=file,
            metavar="FILE",
            help="Configuration to read; need not exist yet.",
            **common,
        ),
        click.Option(
            ["--archive"],
            type=file,
            metavar="FILE",
            help="Archive of element sets to use.",
            **common,
        ),
        click.Option(
            ["--verbose", "-v"], is_flag=True, help="Say more on stderr.", **common
        ),
        click.Option(
            ["--theme"],
            type=click.Choice(["light", "dark", "red"]),
            help="Colours; red keeps the eyes adapted to the dark.",
            **common,
        ),
    ]


def with_global_options(command: click.Command) -> click.Command:
    """Give a command, and what stands below it, the options of the whole run."""
    taken = {word for param in command.params for word in param.opts}
    for option in global_options():
        if not taken.intersection(option.opts):
            command.params.append(option)
    if isinstance(command, click.Group):
        for below in command.commands.values():
            with_global_options(below)
    return command


def renamed_options(names: Mapping[str, str]) -> Callable[[Command], Command]:
    """Let a command take options by their former names too, saying so on stderr.

    ``names`` has the present name of each former one; put it above ``@click.command``.
    """
    from passes import renamed

    def serve(command: Command) -> Command:
        parse = command.parse_args

        def parse_args(ctx: click.Context, args: list[str]) -> list[str]:
            return parse(ctx, list(present(ctx, args)))

        def present(ctx: click.Context, args: list[str]) -> Iterator[str]:
            ended = False
            for word in args:
                former, equals, value = word.partition("=")
                ended = ended or word == "--"
                if former in names and not ended:
                    program(ctx).say(f"passes: {renamed.told(former, names[former])}")
                    word = f"{names[former]}{equals}{value}"
                yield word

        command.parse_args = parse_args  # type: ignore[method-assign]
        return command

    return serve


def with_options(function: Any, options: Sequence[Decorator]) -> Any:
    """A command's function with options, listed in this order in its help."""
    for option in reversed(options):
        function = option(function)
    return function


class Progress:
    """A line on stderr about work that takes over a second, only on a terminal."""

    def __init__(self, run: Program) -> None:
        self._run, self._begun, self._last = run, time.monotonic(), 0.0
        self._shown = False

    def __call__(self, what: str, done: int, total: int) -> None:
        """Show how far some work has come; ``total`` 0 is unknown."""
        now = time.monotonic()
        patient = now - self._begun < _PATIENCE_S or now - self._last < _EVERY_S
        if patient or sys.stderr is None or not sys.stderr.isatty():
            return
        share = f" {100 * done // total} %" if total else f" {done}"
        self._write(f"{what}{share}")
        self._last, self._shown = now, True

    def clear(self) -> None:
        """Take the line away again."""
        if self._shown:
            self._write("")
            self._shown = False

    def _write(self, text: str) -> None:
        screen = self._run.screen(sys.stderr)
        red = "\x1b[31;40m" if screen.styled and screen.theme == "red" else ""
        sys.stderr.write(
            f"\r{red}{text[: screen.width - 1]}\x1b[K{red and chr(27) + '[0m'}"
        )
        sys.stderr.flush()
