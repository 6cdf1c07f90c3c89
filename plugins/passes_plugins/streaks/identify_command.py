"""``passes identify``: who made a streak."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from passes.options import Finite, Output, asks, program, writes

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes_plugins.streaks.candidates import Identification, Streak
    from passes_plugins.streaks.from_files import Recorded

    #: An image, and the ends of a streak in its pixels.
    Seen = tuple[Recorded, tuple[tuple[float, float], tuple[float, float]]]


@click.command("identify")
@click.option(
    "--image",
    "images",
    multiple=True,
    metavar="FILE",
    help="A FITS image; one for all --ends, or one for each.",
)
@click.option(
    "--ends",
    nargs=2,
    multiple=True,
    metavar="X1,Y1 X2,Y2",
    help="A streak's ends in pixels; the first pixel is 1,1. Repeat.",
)
@click.option(
    "--radec",
    nargs=2,
    multiple=True,
    metavar="RA1,DEC1 RA2,DEC2",
    help="Its ends on the sky (ICRS), open from --from to --to. Repeat.",
)
@click.option(
    "--cut",
    type=click.Choice(("none", "first", "second", "both")),
    default="none",
    show_default=True,
    help="With --radec: which ends the frame's edge cuts off.",
)
@click.option(
    "--clock-sigma",
    "clock_sigma_s",
    type=Finite(0.0, 3600.0, " s"),
    default=0.5,
    show_default=True,
    metavar="SECONDS",
    help="How far the camera's clock may be off.",
)
@click.option(
    "--all", "everything", is_flag=True, help="List the hopeless candidates too."
)
@writes("identification")
@asks(rigs=True)
@click.pass_obj
def command(
    services: Services,
    /,
    output: Output,
    images: tuple[str, ...],
    ends: tuple[tuple[str, str], ...],
    radec: tuple[tuple[str, str], ...],
    cut: str,
    clock_sigma_s: float,
    everything: bool,
) -> None:
    """Who made a streak: objects ranked by path, direction, length and time.

    The last row is always none of these: uncatalogued, aircraft, meteor. Nobody is
    named under a chance of 50 %, or with an error over four sigma. Two or more named
    streaks give the offset of the camera's clock.

    \b
    Examples:
      passes identify --image sub_042.fits --ends 12,880 6230,1410
      passes identify --radec 148.1,69.0 149.9,69.6 --from 2029-03-17T20:03:06Z \\
        --to 2029-03-17T20:06:06Z --cut both --demo
    """
    from passes_plugins.streaks.clock_offsets import clock_offset
    from passes_plugins.streaks.identify_page import write
    from passes_plugins.streaks.identifying import identify
    from passes_plugins.streaks.seen_streaks import around, of_image

    _check(images, ends, radec, cut)
    seen: list[Seen] = []
    if radec:
        streaks = _of_places(services, radec, cut, clock_sigma_s)
    else:
        seen, services = _of_images(services, images, ends)
        streaks = [of_image(*one, clock_sigma_s) for one in seen]
    services = services.moved(window=around(streaks))
    found: list[Identification] = [identify(one, services) for one in streaks]
    write(found, clock_offset(found), services, output, everything)
    _hint(seen, found, services, clock_sigma_s)


def _hint(
    seen: Sequence[Seen],
    found: Sequence[Identification],
    services: Services,
    clock_sigma_s: float,
) -> None:
    """Say where a streak that nobody made would be somebody's, seen upside down."""
    from passes_plugins.streaks.identifying import identify
    from passes_plugins.streaks.seen_streaks import of_image, upside_down

    for (image, ends), one in zip(seen, found, strict=False):
        if one.named is not None:
            continue
        turned = of_image(image, upside_down(image, ends), clock_sigma_s)
        named = identify(turned, services).named
        if named is not None:
            program().say(
                f"passes: with rows counted from the top, {named.crossing.name} fits "
                f"({100 * named.chance:.0f} %); --ends are counted from 1,1 at the "
                "file's first pixel, which is the lowest row by the standard"
            )


def _check(
    images: tuple[str, ...],
    ends: tuple[tuple[str, str], ...],
    radec: tuple[tuple[str, str], ...],
    cut: str,
) -> None:
    """Refuse what contradicts itself."""
    params = click.get_current_context().params
    timed = bool(params.get("start"))
    if bool(images) == bool(radec):
        raise click.UsageError("give --image and --ends, or --radec")
    if images and not ends:
        raise click.UsageError("--image needs --ends X1,Y1 X2,Y2")
    if radec and ends:
        raise click.UsageError("--ends are pixels of an --image; --radec has places")
    if images and len(images) not in (1, len(ends)):
        raise click.UsageError(
            f"{len(images)} images and {len(ends)} --ends: give one image for all, or "
            "one for each"
        )
    if radec and not timed:
        raise click.UsageError(
            "--radec needs --from and --to: when the shutter was open"
        )
    if images and (timed or params.get("evening")):
        raise click.UsageError("the image has its own times; leave out --from and --to")
    if images and cut != "none":
        raise click.UsageError("--cut belongs to --radec; an image shows its own edges")


def _of_places(
    services: Services, radec: tuple[tuple[str, str], ...], cut: str, sigma_s: float
) -> list[Streak]:
    from passes_plugins.streaks.seen_streaks import of_places, place

    cuts = (cut in ("first", "both"), cut in ("second", "both"))
    return [
        of_places((place(a), place(b)), services.window, cuts, sigma_s)
        for a, b in radec
    ]


def _of_images(
    services: Services,
    images: tuple[str, ...],
    ends: tuple[tuple[str, str], ...],
) -> tuple[list[Seen], Services]:
    from passes_plugins.streaks.seen_streaks import numbers, read_images

    params = click.get_current_context().params
    rigs = params.get("rigs") or ()
    read, told = read_images(
        images,
        services,
        site_named=bool(params.get("site_name") or params.get("at")),
        rig_name=rigs[0] if rigs else "",
    )
    for line in told:
        program().say(f"passes: {line}")
    each = read * len(ends) if len(read) == 1 else read
    seen = [
        (image, (numbers(a, "--ends"), numbers(b, "--ends")))
        for image, (a, b) in zip(each, ends, strict=True)
    ]
    return seen, read[0].services
