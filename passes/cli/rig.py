"""``passes rig``: telescopes and lenses with their cameras and mounts, by name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from passes.errors import InputError, UnknownName
from passes.options import Output, program, writes
from passes.options.rig_options import MOUNT_KEYS, describes_rig

if TYPE_CHECKING:
    from passes.model import Rig

CSV_COLUMNS = (
    *("name", "focal_length_mm", "extender", "aperture_mm", "f_number", "pixel_um"),
    *("width_px", "height_px", "scale_arcsec_px", "field_deg", "mount"),
)


@click.group("rig")
def command() -> None:
    """Keep rigs by name: optics, camera, mount.

    \b
    Examples:
      passes rig list
      passes rig add long --help
    """


@command.command("add")
@click.argument("name")
@describes_rig
@click.option("--default", is_flag=True, help="Meant when no rig is named.")
@click.option("--replace", is_flag=True, help="Take the place of one so named.")
def add(name: str, default: bool, replace: bool, **described: Any) -> None:
    """Keep a rig under NAME; focal length, pixel, width and height are needed.

    What is left out stays unknown, and advice says how much hangs on it. All of it
    can be edited in the configuration file too.

    \b
    Examples:
      passes rig add long --focal-length 2540 --aperture 254 --pixel 3 \\
          --width 1936 --height 1216 --gain 120,0.75,2.4,3000 --mount equatorial
      passes rig add wide --focal-length 24 --f-number 2.8 --pixel 5.9 \\
          --width 6048 --height 4024 --colour
    """
    rig = _rig(name, {key: v for key, v in described.items() if v not in (None, ())})
    _keep(rig, default=default, again=replace)


def _rig(name: str, given: dict[str, Any]) -> Rig:
    from passes.model import Mount, Rig

    if "aperture_mm" in given and "focal_ratio" in given:
        raise click.UsageError("--aperture and --f-number say the same; give one")
    mount = {key: given.pop(key) for key in MOUNT_KEYS if key in given}
    if "shake" in given:
        mount["shake_arcsec"], mount["shake_hz"] = given.pop("shake")
    return Rig(name=name, mount=Mount(**mount), **given)


def _keep(rig: Rig, *, default: bool, again: bool) -> None:
    """Write a rig into the configuration."""
    from passes.config import to_table
    from passes.config.writing import edit, table_of

    def change(document: Any) -> None:
        kept = document.get("rigs", {})
        if rig.name in kept and not again:
            raise InputError(f"a rig {rig.name!r} is kept already; --replace it")
        if rig.name in kept:
            del kept[rig.name]
        table = table_of(document, "rigs", rig.name)
        for key, value in to_table(rig, leave_out=("name",)).items():
            table[key] = value
        if default:
            table_of(document, "defaults")["rigs"] = [rig.name]

    config = edit(program().config_path, change)
    program().say(f"kept rig {rig.name} in {config.path}")


@command.command("list")
@writes("rigs")
def listed(output: Output) -> None:
    """List the rigs that are kept.

    \b
    Examples:
      passes rig list
      passes rig list --json
    """
    rigs = list(program().config().rigs.values())
    output.write(
        table=lambda screen: _pages().rigs_page(rigs, screen),
        document=lambda: {"rigs": [document(one) for one in rigs]},
        records=lambda: [_flat(one) for one in rigs],
        columns=CSV_COLUMNS,
    )


@command.command("show")
@click.argument("name")
@writes("rigs", csv=False)
def show(name: str, output: Output) -> None:
    """Everything about one rig.

    \b
    Example:
      passes rig show long
    """
    rig = program().config().rig(name)
    output.write(
        table=lambda screen: _pages().rig_sheet(rig, screen),
        document=lambda: {"rigs": [document(rig)]},
    )


@command.command("remove")
@click.argument("name")
def remove(name: str) -> None:
    """Forget one rig.

    \b
    Example:
      passes rig remove wide
    """
    from passes.config.writing import edit
    from passes.config.writing import remove as take_out

    known = program().config().rigs
    if name not in known:
        raise UnknownName("rig", name, known)

    def change(document: Any) -> None:
        take_out(document, "rigs", name)
        meant = document.get("defaults", {}).get("rigs", [])
        if name in meant:
            meant.remove(name)

    config = edit(program().config_path, change)
    program().say(f"forgot rig {name}; the others are in {config.path}")


def document(rig: Rig) -> dict[str, Any]:
    """One rig in its JSON shape: its record, scale and field; null is unknown."""
    from dataclasses import asdict

    record = _plain(asdict(rig))
    record["f_number"] = _plain(round(rig.f_number, 3))
    record["scale_arcsec_px"] = round(rig.scale_arcsec_px, 4)
    record["field_deg"] = [round(side, 4) for side in rig.field_deg]
    return dict(record)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return None if isinstance(value, float) and value != value else value


def _flat(rig: Rig) -> dict[str, Any]:
    whole = document(rig)
    whole["field_deg"] = "x".join(str(side) for side in whole["field_deg"])
    whole["mount"] = whole["mount"]["kind"]
    return {column: whole[column] for column in CSV_COLUMNS}


def _pages() -> Any:
    from passes.tables import rigs

    return rigs
