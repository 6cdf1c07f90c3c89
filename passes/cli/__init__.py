"""The command line: one file a command, imported when it is typed.

A command of the program is ``passes.cli.<name>:command`` and a line in ``CORE``; a
plugin's command is known by its summary until it is typed.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any, NoReturn

import click

from passes import __version__
from passes.errors import PassesError, PluginFailed
from passes.options.running import (
    Program,
    asking_plugin,
    bind,
    mark_plugin,
    program,
    with_global_options,
)

if TYPE_CHECKING:
    from passes.contributions import Command
    from passes.registry import Provided

#: The program's own commands and what ``passes --help`` says of them.
CORE = {
    "check": "What is not ready for tonight, and what to do about it.",
    "elements": "Keep, fetch, list and check element sets.",
    "plugins": "List plugins, what they add and what is wrong with them.",
    "rig": "Keep rigs by name: optics, camera, mount.",
    "site": "Keep observing sites by name.",
    "track": "One pass second by second: pointing, rates and light.",
    "tonight": "The passes worth going outside for tonight.",
}
_STOPPED = 130


class Commands(click.Group):
    """The program: finds commands by name and is the one place where errors end."""

    _run: Program | None = None

    # --- finding commands ------------------------------------------------------

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the program's own commands and of the plugins'."""
        return sorted({*CORE, *(one.item.name for one in _offered(ctx))})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command; None where nobody offers it."""
        if cmd_name in CORE:
            module = import_module(f"passes.cli.{cmd_name}")
            return with_global_options(module.command)
        for provided in _offered(ctx):
            if provided.item.name == cmd_name:
                return with_global_options(_loaded(ctx, provided))
        return None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does it, but with near misses among all commands."""
        if not args[0].startswith("-") and args[0] not in CORE:
            known = self.list_commands(ctx)
            if args[0] not in known:
                raise click.UsageError(_no_command(args[0], known), ctx)
        return super().resolve_command(ctx, args)

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """List commands by their summaries, without importing any."""
        rows = {**{one.item.name: one.item.summary for one in _offered(ctx)}, **CORE}
        with formatter.section("Commands"):
            formatter.write_dl(sorted(rows.items()))

    # --- running ---------------------------------------------------------------

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Begin a run; what goes wrong with plugins is told at its end."""
        run = bind(ctx, self._run or Program(commands=tuple(CORE)))
        ctx.call_on_close(run.tell_problems)
        try:
            return super().parse_args(ctx, args)
        except click.exceptions.Exit:  # --help: the context is never closed
            run.tell_problems()
            raise

    def invoke(self, ctx: click.Context) -> None:
        """Run the command; what a plugin's command did not expect is its fault."""
        try:
            super().invoke(ctx)
        except (PassesError, click.ClickException, click.Abort, click.exceptions.Exit):
            raise
        except BrokenPipeError:
            raise
        except Exception as error:
            plugin = asking_plugin(ctx)
            if not plugin:
                raise
            raise PluginFailed(
                f"the command of plugin {plugin} failed: {_described(error)}"
            ) from error

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Run, and turn every error into one or two lines and an exit code."""
        self._run = Program(commands=tuple(CORE))
        if not standalone_mode:
            return super().main(args, prog_name, complete_var, False, **extra)
        try:
            code = super().main(args, prog_name, complete_var, False, **extra)
        except Exception as error:  # noqa: BLE001  the last net: told, never shown raw
            code = _ended(self._run, error)
        sys.exit(code or 0)


def _offered(ctx: click.Context) -> tuple[Provided[Command], ...]:
    from passes.contributions import Command

    return program(ctx).registry().of(Command)


def _loaded(ctx: click.Context, provided: Provided[Command]) -> click.Command:
    """A plugin's command; what it asks of the services, it asks as that plugin."""
    from passes.registry import ask

    command = program(ctx).registry().requested(provided, ask)
    mark_plugin(ctx, provided.origin.plugin)
    return command


def _no_command(name: str, known: list[str]) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, known)
    hint = (
        f"did you mean {' or '.join(near)}?" if near else f"known: {', '.join(known)}"
    )
    return f"no command {name!r}; {hint}"


def _ended(run: Program, error: Exception) -> int:
    """Say how the run ended; the exit code."""
    if isinstance(error, BrokenPipeError):
        _forget_stdout()
        return 1
    if isinstance(error, click.Abort):
        run.say("passes: stopped")
        return _STOPPED if isinstance(error.__cause__, KeyboardInterrupt) else 1
    if os.environ.get("PASSES_DEBUG", "") not in ("", "0"):
        import traceback

        traceback.print_exception(error)
    if isinstance(error, click.ClickException):
        _tell_usage(run, error)
        return error.exit_code
    if isinstance(error, PassesError):
        _tell(run, str(error))
        return error.exit_code
    _tell(run, f"unexpected {_described(error)}\nPASSES_DEBUG=1 shows where")
    return 1


def _tell_usage(run: Program, error: click.ClickException) -> None:
    message = error.format_message()
    if "\n" in message:  # a whole help page, asked for by saying nothing
        error.show()
        return
    ctx = getattr(error, "ctx", None)
    hint = f"\nsee {ctx.command_path} --help" if ctx is not None else ""
    _tell(run, message + hint)


def _tell(run: Program, message: str) -> None:
    from passes.tables import plain

    first, *rest = message.splitlines() or [""]
    run.say(f"passes: {plain(first, 600)}")
    for line in rest[:1]:
        run.say(f"        {plain(line, 600)}")


def _described(error: Exception) -> str:
    text = str(error)
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def _forget_stdout() -> None:
    """Nobody reads stdout any more: keep the interpreter from flushing into it."""
    devnull = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(devnull, sys.stdout.fileno())
    except (OSError, ValueError, AttributeError):
        sys.stdout = open(devnull, "w", closefd=False)  # noqa: SIM115  lives on


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Options of a command: passes COMMAND --help. An invented night to look at: "
    "passes tonight --demo.",
)
@click.version_option(__version__, prog_name="passes", message="%(prog)s %(version)s")
def cli() -> None:
    """Satellite passes for astrophotographers, offline: what to shoot, when, and how
    far each number can be trusted."""


with_global_options(cli)


def main() -> NoReturn:
    """Run the program as the shell does."""
    cli.main(prog_name="passes")
    raise AssertionError("the program always exits by itself")
