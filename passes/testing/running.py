"""Running a plugin's command in a test, as the program would."""

from __future__ import annotations

from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from passes.testing.services import FakeServices

if TYPE_CHECKING:
    import click
    from click.testing import Result

    from passes.contributions import Services

#: Where a configuration or an archive of the person's own would be looked for.
_HOMES = ("HOME", "USERPROFILE", "XDG_CONFIG_HOME", "XDG_DATA_HOME")


def run(
    command: click.Command,
    *args: str,
    services: Services | None = None,
    input: str | None = None,
) -> Result:
    """Type a command's arguments; the result has ``stdout``, ``stderr``, ``exit_code``.

    ``command`` is what a contribution's ``load`` returns.  It finds ``services`` as
    the click context's object, or else a :class:`FakeServices`, and no configuration:
    its home folder is empty.  ``input`` is what it gets on stdin.  Whatever it raises
    is the result's ``exception``, a PassesError too, which the program would tell in a
    line.
    """
    from click.testing import CliRunner

    with TemporaryDirectory() as home:
        return CliRunner().invoke(
            command,
            args,
            input=input,
            env=dict.fromkeys(_HOMES, home),
            obj=FakeServices() if services is None else services,
            prog_name=command.name,
        )
