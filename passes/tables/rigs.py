"""Rigs as a person reads them: a list, and one in full."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from passes.tables.layout import Column, Screen, labelled, listing
from passes.tables.text import number, plain

if TYPE_CHECKING:
    from passes.model import Rig


def rigs_page(rigs: Iterable[Rig], screen: Screen) -> str:
    """The rigs that are kept."""
    columns = [
        Column("Rig", elastic=True),
        Column("Focal length", "right"),
        Column("f/", "right"),
        Column("Scale", "right"),
        Column("Field", "right"),
        Column("Mount", drop=1),
    ]
    rows = [
        [
            plain(rig.name, 40),
            number(rig.effective_focal_length_mm, 0, " mm"),
            number(rig.f_number, 1),
            number(rig.scale_arcsec_px, 2, "″/px"),
            _field(rig),
            rig.mount.kind,
        ]
        for rig in rigs
    ]
    if not rows:
        said = "No rig is kept yet: passes rig add NAME --focal-length MM --pixel UM …"
        return screen.finish([said])
    return screen.finish(listing(columns, rows, screen))


def rig_sheet(rig: Rig, screen: Screen) -> str:
    """One rig in full."""
    pairs = [("Rig", plain(rig.name, 60)), ("Optics", _optics(rig))]
    pairs += [("Camera", _camera(rig)), ("Field", _field(rig)), ("Disk", _disk(rig))]
    pairs += [("Power", _power(rig)), ("Mount", _mount(rig))]
    pairs += [
        (
            "Gain",
            f"{gain.name}: {gain.electrons_per_adu:g} e⁻/ADU, read noise "
            f"{gain.read_noise_e:g} e⁻, full well {gain.full_well_e:g} e⁻, "
            f"{gain.bit_depth} bit",
        )
        for gain in rig.gains
    ]
    pairs += [
        (
            "Filter",
            f"{one.name}: {one.centre_nm:g} ± {one.width_nm / 2:g} nm, "
            f"peak {one.peak:g}",
        )
        for one in rig.filters
    ]
    pairs += [
        (
            "Mode",
            f"{mode.name}: {mode.width_px} × {mode.height_px} px at "
            f"{number(mode.frame_rate_hz, 0)} a second, {mode.shutter} shutter"
            + (f", binned {mode.binning} × {mode.binning}" * (mode.binning > 1)),
        )
        for mode in rig.modes
    ]
    return screen.finish(labelled([(a, plain(b, 300)) for a, b in pairs], screen))


def _optics(rig: Rig) -> str:
    said = f"{rig.focal_length_mm:g} mm"
    if rig.extender != 1.0:
        said += f" × {rig.extender:g} = {rig.effective_focal_length_mm:g} mm"
    said += f", aperture {number(rig.aperture_mm, 0, ' mm')}"
    if rig.obstruction:
        said += f" ({100 * rig.obstruction:.0f} % obstructed)"
    return f"{said}, f/{number(rig.f_number, 1)}"


def _camera(rig: Rig) -> str:
    kind = "colour" if rig.colour else "mono"
    return (
        f"{rig.width_px} × {rig.height_px} px of {rig.pixel_um:g} µm, {kind}, "
        f"{number(rig.scale_arcsec_px, 3, '″/px')}, quantum efficiency "
        f"{number(rig.quantum_efficiency, 2)}, up at {rig.rotation_deg:g}°"
    )


def _field(rig: Rig) -> str:
    width, height = rig.field_deg
    if width < 1.0:
        return f"{width * 60:.1f}′ × {height * 60:.1f}′"
    return f"{width:.1f}° × {height:.1f}°"


def _disk(rig: Rig) -> str:
    return (
        f"link {number(rig.link_mb_s, 0, ' MB/s')}, write "
        f"{number(rig.write_mb_s, 0, ' MB/s')}, buffer "
        f"{number(rig.buffer_mb, 0, ' MB')}, free {number(rig.free_gb, 0, ' GB')}"
    )


def _power(rig: Rig) -> str:
    return (
        f"draws {number(rig.power_w, 0, ' W')}, of {number(rig.battery_wh, 0, ' Wh')}"
    )


def _mount(rig: Rig) -> str:
    mount = rig.mount
    follows = "follows satellites" if mount.follows_satellites else "does not follow"
    rates = " and ".join(number(one, 1, "°/s") for one in mount.rate_limits_deg_s)
    return (
        f"{mount.kind}, {follows}, at most {rates}; tracking error "
        f"{number(mount.tracking_error_arcsec, 1, '″')}, pointing error "
        f"{number(mount.pointing_error_arcmin, 1, '′')}, shake "
        f"{number(mount.shake_arcsec, 1, '″')}"
        + (f" at {mount.shake_hz:g} Hz" if mount.shake_hz == mount.shake_hz else "")
        + (
            f"; offset {rig.offset_arcmin[0]:g}′, {rig.offset_arcmin[1]:g}′"
            if any(rig.offset_arcmin)
            else ""
        )
    )
