"""``--place``, ``--try-exposures`` and ``--compare`` of ``passes streaks``."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passes.options import Finite, Output

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes_plugins.streaks.choices import Choices
    from passes_plugins.streaks.planning import Planned

_NAMES = ("place", "try_exposures", "compare")
_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option(
        "--place",
        is_flag=True,
        help="Write the plan with its subs placed where most is kept.",
    ),
    click.option(
        "--try-exposures",
        multiple=True,
        type=Finite(0.001, 86400.0, " s"),
        metavar="SECONDS",
        help="What subs of this length would do here. Repeat.",
    ),
    click.option(
        "--compare",
        multiple=True,
        type=click.Path(path_type=Path),
        metavar="PLAN",
        help="Rank this plan's targets too, hour by hour. Repeat.",
    ),
)


def with_alternatives(function: Any) -> Any:
    """Give a command the three options; they do not reach the command itself."""

    @wraps(function)
    def without(*args: Any, **values: Any) -> Any:
        for name in _NAMES:
            values.pop(name)
        return function(*args, **values)

    wrapper: Any = without
    for option in reversed(_OPTIONS):
        wrapper = option(wrapper)
    return wrapper


def asked() -> bool:
    """Whether one of them was given; UsageError for what it excludes."""
    params = click.get_current_context().params
    given = [name for name in _NAMES if params.get(name)]
    words = [f"--{name.replace('_', '-')}" for name in given]
    if len(given) > 1:
        raise click.UsageError(f"{' and '.join(words)} are two questions; ask one")
    if given and params.get("files"):
        raise click.UsageError(f"{words[0]} needs a plan; --subs are taken already")
    if given and params.get("chart_path"):
        raise click.UsageError(
            f"--chart draws a plan as it stands, {words[0]} asks about others; "
            "ask one at a time"
        )
    return bool(given)


def answer(
    ready: Planned, services: Services, choices: Choices, output: Output
) -> None:
    """Answer the one that was asked for."""
    params = click.get_current_context().params
    if params["place"]:
        from passes_plugins.streaks.placing import placed
        from passes_plugins.streaks.placing_page import write_placed

        write_placed(placed(ready, choices), ready, output)
    elif params["try_exposures"]:
        from passes_plugins.streaks.lengths_page import write_lengths

        write_lengths(ready, choices, params["try_exposures"], output)
    else:
        from passes.plans import read_plan
        from passes_plugins.streaks.comparing import compared
        from passes_plugins.streaks.comparing_page import write_hours

        others = [read_plan(path) for path in params["compare"]]
        write_hours(compared(ready, others, choices), ready, output)
