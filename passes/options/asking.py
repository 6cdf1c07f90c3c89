"""The options that most commands share: where, when, of what, from which elements."""

from __future__ import annotations

import glob
import os
from collections.abc import Callable, Iterable
from functools import wraps
from typing import TYPE_CHECKING, Any

import click

from passes.options import types
from passes.options.running import (
    Decorator,
    Progress,
    asking_plugin,
    program,
    with_options,
)

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.elements import Limits

_PLACE = (
    click.option("--site", "site_name", metavar="NAME", help="A site kept by name."),
    click.option(
        "--at",
        type=types.Place(),
        metavar="LAT,LON[,HEIGHT_M]",
        help="A place: degrees (37.1,-3.4,1900) or 37°06′N,3°24′W.",
    ),
)
#: The limit on what is read of one file; a command that reads files itself hands the
#: value on by ``read_limits``.
max_size = click.option(
    "--max-size",
    type=types.Finite(0.001, 65536.0, " MiB"),
    metavar="MIB",
    help="Read so much of each file, expanded, in place of 64 MiB.",
)
_ELEMENTS = (
    click.option(
        "--elements",
        multiple=True,
        metavar="FILE",
        help="Element sets, TLE or OMM; - is stdin. Repeat for more.",
    ),
    click.option(
        "--ephemeris",
        multiple=True,
        metavar="FILE",
        help="An operator's ephemeris (CCSDS OEM), used where it reaches. Repeat.",
    ),
    click.option("--strict", is_flag=True, help="Stop at the first bad element set."),
    max_size,
)
_TIMES = (
    click.option(
        "--date",
        "evening",
        type=types.Evening(),
        metavar="YYYY-MM-DD",
        help="The local evening. Default: this night.",
    ),
    click.option(
        "--from",
        "start",
        type=types.Moment(),
        metavar="TIME",
        help="A window in place of the night, with Z or an offset.",
    ),
    click.option("--to", "end", type=types.Moment(), metavar="TIME", help="Its end."),
)
_OBJECTS = (
    click.option(
        "--object",
        "objects",
        multiple=True,
        metavar="NAME_OR_NUMBER",
        help="Only this object. Repeat for more.",
    ),
    click.option(
        "--late-by",
        type=types.Finite(-3600.0, 3600.0, " s"),
        metavar="SECONDS",
        help="A lateness measured on the objects named.",
    ),
)
_DEMO = (
    click.option("--demo", is_flag=True, help="An invented night; needs nothing."),
)
_PASS = (
    click.option(
        "--pass",
        "pass_id",
        type=types.PassName(),
        metavar="ID",
        help="One pass, by the id that lists print.",
    ),
)
_RIGS = (
    click.option(
        "--rig",
        "rigs",
        multiple=True,
        metavar="NAME",
        help="A rig kept by name. Repeat for more.",
    ),
)
_SEARCH = (
    click.option(
        "--min-altitude",
        "min_altitude_deg",
        type=types.Finite(0.0, 89.0, "°"),
        default=10.0,
        show_default=True,
        metavar="DEG",
        help="Where a pass begins and ends.",
    ),
    click.option(
        "--sun-below",
        "sun_below_deg",
        type=types.Finite(-90.0, 90.0, "°"),
        metavar="DEG",
        help="Dark enough once the Sun is below this, in place of twilight's limit.",
    ),
    click.option("--brightness", metavar="NAME", help="The brightness model to use."),
    click.option(
        "--processes",
        type=click.IntRange(1, 64),
        default=1,
        show_default=True,
        help="Processes to search with.",
    ),
)


def asks(
    *, search: bool = False, rigs: bool = False, one_pass: bool = False
) -> Decorator:
    """Give a command the common options, and the host's services to work with.

    The command takes the services by ``@click.pass_obj``; they are built lazily from
    the options, which do not reach the command themselves.  ``search`` adds the limits
    of a search, ``rigs`` adds ``--rig``, ``one_pass`` adds ``--pass``.  A test hands in
    its own services as ``obj``.
    """
    options = [*_PLACE, *_ELEMENTS, *_TIMES, *_OBJECTS]
    options += [*(_PASS if one_pass else ()), *(_RIGS if rigs else ())]
    options += [*(_SEARCH if search else ()), *_DEMO]

    def decorate(function: Callable[..., Any]) -> Any:
        @wraps(function)
        def wrapper(*args: Any, **values: Any) -> Any:
            ctx = click.get_current_context()
            asked = {name: values.pop(name) for name in _names(options)}
            _check(asked)
            if ctx.obj is None:
                ctx.obj = _services(ctx, asked)
            return function(*args, **values)

        return with_options(wrapper, options)

    return decorate


def _names(options: Iterable[Any]) -> list[str]:
    """The names under which options arrive in a command."""

    def bare() -> None:
        """Stand in for a command."""

    for option in options:
        option(bare)
    return [str(param.name) for param in bare.__click_params__]  # type: ignore[attr-defined]


def _check(asked: dict[str, Any]) -> None:
    """Refuse what contradicts itself."""
    if asked["site_name"] and asked["at"]:
        raise click.UsageError("--site and --at are two places; give one")
    if asked["evening"] and (asked["start"] or asked["end"]):
        raise click.UsageError("--date is a whole night; leave out --from and --to")
    if bool(asked["start"]) != bool(asked["end"]):
        raise click.UsageError("--from and --to belong together; one is missing")
    if asked["start"] and asked["end"] <= asked["start"]:
        raise click.UsageError("--to is not after --from")
    if asked["late_by"] is not None and not (asked["objects"] or asked.get("pass_id")):
        raise click.UsageError(
            "--late-by is one object's lateness; name it by --object"
        )
    if asked["demo"] and (asked["elements"] or asked["at"]):
        raise click.UsageError(
            "--demo brings its own sites and elements; leave out --at and --elements"
        )


def _services(ctx: click.Context, asked: dict[str, Any]) -> Services:
    """Build the services; nothing is read or searched before they are used."""
    from passes.config import Config
    from passes.forecast import Request, build

    run = program(ctx)
    run.progress = Progress(run)
    ctx.call_on_close(run.quiet)
    config = Config() if asked["demo"] else run.config()
    passage = asked.get("pass_id")
    objects = tuple(asked["objects"])
    request = Request(
        site=asked["at"],
        site_name=asked["site_name"] or "",
        date=asked["evening"],
        start=asked["start"],
        end=asked["end"],
        element_files=expanded(asked["elements"]),
        ephemeris_files=expanded(asked["ephemeris"], "--ephemeris"),
        max_bytes=read_limits(asked["max_size"]).get("max_bytes"),
        archive=None if asked["demo"] else run.archive_path(),
        objects=(str(passage.catalog_number),) if passage and not objects else objects,
        demo=asked["demo"],
        rigs=tuple(asked.get("rigs", ())),
        min_altitude_deg=asked.get("min_altitude_deg", 10.0),
        sun_below_deg=asked.get("sun_below_deg"),
        late_by_s=asked["late_by"],
        strict=asked["strict"],
        processes=asked.get("processes", 1),
        brightness=asked.get("brightness") or config.defaults.brightness or None,
        now=passage.time if passage else None,  # a pass's night is its own
        progress=run.progress,
    )
    forecast = build(request, run.registry(), config)
    plugin = asking_plugin(ctx)
    return forecast.for_plugin(plugin) if plugin else forecast


def read_limits(max_size_mib: float | None) -> Limits:
    """What ``--max-size`` means for a reader of element files; nothing if not given."""
    from passes.elements import limits

    return {} if max_size_mib is None else limits(int(max_size_mib * 2**20))


def expanded(files: Iterable[str], option: str = "--elements") -> tuple[str, ...]:
    """Files named, patterns (quoted, so left alone by the shell) expanded by us."""
    found: list[str] = []
    for name in files:
        if name != "-" and glob.has_magic(name) and not os.path.exists(name):
            matches = sorted(glob.glob(os.path.expanduser(name), recursive=True))
            if not matches:
                raise click.UsageError(f"{option} {name}: no file matches")
            found += matches
        else:
            found.append(name)
    return tuple(found)
