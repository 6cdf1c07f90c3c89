"""The options that describe a rig: optics, camera, mount."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from passes.options.rig_parts import FilterPart, GainPart, ModePart, Pair
from passes.options.types import Finite


def _number(
    option: str, low: float, high: float, metavar: str, help: str, **more: Any
) -> Any:
    return click.option(
        option,
        *more.pop("names", ()),
        type=Finite(low, high),
        metavar=metavar,
        help=help,
        **more,
    )


_OPTICS = (
    _number(
        "--focal-length",
        1,
        1e5,
        "MM",
        "Focal length.",
        names=("focal_length_mm",),
        required=True,
    ),
    _number("--aperture", 0.5, 2e4, "MM", "Clear aperture.", names=("aperture_mm",)),
    _number(
        "--f-number",
        0.3,
        500,
        "N",
        "Of a lens, in place of the aperture.",
        names=("focal_ratio",),
    ),
    _number(
        "--obstruction",
        0,
        0.95,
        "SHARE",
        "Central obstruction, as a share of the aperture's diameter.",
    ),
    _number("--extender", 0.05, 20, "FACTOR", "Multiplies the focal length."),
)
_CAMERA = (
    _number(
        "--pixel",
        0.1,
        1000,
        "UM",
        "Size of a pixel.",
        names=("pixel_um",),
        required=True,
    ),
    click.option(
        "--width",
        "width_px",
        type=click.IntRange(1, 200_000),
        required=True,
        metavar="PX",
        help="Pixels across.",
    ),
    click.option(
        "--height",
        "height_px",
        type=click.IntRange(1, 200_000),
        required=True,
        metavar="PX",
        help="Pixels down.",
    ),
    _number(
        "--qe",
        1e-4,
        1,
        "SHARE",
        "Peak quantum efficiency, 0 to 1.",
        names=("quantum_efficiency",),
    ),
    click.option("--colour/--mono", default=None, help="A colour sensor or not."),
    _number(
        "--rotation",
        -360,
        360,
        "DEG",
        "Position angle of the frame's up.",
        names=("rotation_deg",),
    ),
    click.option(
        "--gain",
        "gains",
        type=GainPart(),
        multiple=True,
        metavar="NAME,E_PER_ADU,READ_E,WELL_E[,BITS]",
        help="A setting of the amplifier. Repeat for more.",
    ),
    click.option(
        "--filter",
        "filters",
        type=FilterPart(),
        multiple=True,
        metavar="NAME,CENTRE_NM,WIDTH_NM[,PEAK]",
        help="A filter. Repeat for more.",
    ),
    click.option(
        "--mode",
        "modes",
        type=ModePart(),
        multiple=True,
        metavar="NAME,WxH,FPS[,SHUTTER,LINE_US,SHORTEST_S,BYTES,BINNING]",
        help="A video mode: frames a second, shutter (rolling or global), time a line, "
        "shortest exposure. Repeat for more.",
    ),
    _number(
        "--link",
        0.01,
        1e6,
        "MB_S",
        "Speed of the link from the camera.",
        names=("link_mb_s",),
    ),
    _number(
        "--write",
        0.01,
        1e6,
        "MB_S",
        "Sustained write speed of the disk.",
        names=("write_mb_s",),
    ),
    _number(
        "--buffer",
        0,
        1e7,
        "MB",
        "Buffer of the camera or computer.",
        names=("buffer_mb",),
    ),
    _number("--free", 0, 1e7, "GB", "Free space on the disk.", names=("free_gb",)),
    _number("--power", 0, 1e6, "W", "What all of it draws.", names=("power_w",)),
    _number("--battery", 0, 1e6, "WH", "What its supply holds.", names=("battery_wh",)),
)
_MOUNT = (
    click.option(
        "--mount",
        "kind",
        type=click.Choice(["fixed", "alt-azimuth", "equatorial"]),
        help="What carries it.",
    ),
    click.option(
        "--follows",
        "follows_satellites",
        is_flag=True,
        default=None,
        help="The mount can follow a satellite.",
    ),
    click.option(
        "--rate-limits",
        "rate_limits_deg_s",
        type=Pair("AZ_OR_HA,ALT_OR_DEC", 1e-4, 360),
        metavar="DEG_S,DEG_S",
        help="Fastest rates of the two axes.",
    ),
    click.option(
        "--acceleration-limits",
        "acceleration_limits_deg_s2",
        type=Pair("AZ_OR_HA,ALT_OR_DEC", 1e-4, 1000),
        metavar="A,A",
        help="Greatest accelerations, degrees a second squared.",
    ),
    _number(
        "--tracking-error",
        0,
        3600,
        "ARCSEC",
        "Error while tracking.",
        names=("tracking_error_arcsec",),
    ),
    _number(
        "--pointing-error",
        0,
        600,
        "ARCMIN",
        "What remains after a sync on a star. Default: 5.",
        names=("pointing_error_arcmin",),
    ),
    click.option(
        "--shake",
        type=Pair("ARCSEC,HERTZ", 0, 3600),
        metavar="ARCSEC,HERTZ",
        help="Of the platform; a vehicle is less steady than a tripod.",
    ),
    click.option(
        "--offset",
        "offset_arcmin",
        type=Pair("RIGHT,UP", -6000, 6000),
        metavar="RIGHT,UP",
        help="Arcminutes from the platform's main instrument, on a star.",
    ),
)
#: Options that describe the mount and not the rig itself.
MOUNT_KEYS = (
    *("kind", "follows_satellites", "rate_limits_deg_s", "acceleration_limits_deg_s2"),
    *("tracking_error_arcsec", "pointing_error_arcmin"),
)


def describes_rig(function: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options that describe a rig."""
    for option in reversed((*_OPTICS, *_CAMERA, *_MOUNT)):
        function = option(function)
    return function
