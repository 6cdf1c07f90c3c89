"""What commands share: their common options, and the one writer of output.

A command of the program or of a plugin is made of a few decorators::

    @click.command()
    @click.option("--limit", type=int)  # its own options come first in its help
    @writes("passes")                   # --format --json --output, gives ``output``
    @draws("sky")                       # --chart FILE, gives ``chart``
    @asks(search=True)                  # --site --at --date --elements ... --demo
    @click.pass_obj                     # the services (passes.contributions.Services)
    def command(services, output, chart, limit):
        ...
        output.write(table=..., document=..., records=...)
        chart.write({"sky": lambda palette: ...})
"""

from passes.options.asking import asks
from passes.options.choosing import chosen_passage
from passes.options.drawing import Chart, draws
from passes.options.running import (
    Program,
    Progress,
    mark_plugin,
    program,
    renamed_options,
    with_global_options,
)
from passes.options.types import Evening, Finite, Moment, PassId, PassName, Place
from passes.options.writer import Output, to_stdout, writes

__all__ = [
    "Chart",
    "Evening",
    "Finite",
    "Moment",
    "Output",
    "PassId",
    "PassName",
    "Place",
    "Program",
    "Progress",
    "asks",
    "chosen_passage",
    "draws",
    "mark_plugin",
    "program",
    "renamed_options",
    "to_stdout",
    "with_global_options",
    "writes",
]
