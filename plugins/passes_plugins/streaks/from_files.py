"""From the files of a night to a session: subs, frames, rig and site."""

from __future__ import annotations

import glob
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from math import nan
from pathlib import Path
from typing import Any

from passes.contributions import Services
from passes.errors import InputError
from passes.model import Note, Rig, Session, Site, Span, Sub, Target
from passes_plugins.streaks import fits_files, headers
from passes_plugins.streaks.equinox import Equinox, equinox_of
from passes_plugins.streaks.frames import Frame, frame_of
from passes_plugins.streaks.header_times import Exposure, exposure_of
from passes_plugins.streaks.solved import solved_frame

Progress = Callable[[str, int, int], None]

#: Names that are FITS files when a folder is named.
_SUFFIXES = (
    ".fits",
    ".fit",
    ".fts",
    ".fits.gz",
    ".fit.gz",
    ".fits.fz",
    ".fit.fz",
    ".fz",
)
#: A shutter's sigma beside the resolution of its time, seconds (common practice).
_SHUTTER_S = 0.1
#: How far a pointing that no plate solution confirms may be off on either side, degrees
#: (common practice, no source).
_POINTED_DEG = 0.05
#: The sigma of an evenly spread error is its range over the root of twelve.
_EVEN = 12.0**-0.5


@dataclass(slots=True, kw_only=True)
class Recorded:
    """What the files say; ``complaints`` are one line each, by file."""

    session: Session
    services: Services
    frames: dict[int, Frame]
    complaints: list[str] = field(default_factory=list)
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    """One usable file."""

    path: str
    exposure: Exposure
    frame: Frame
    rig: Rig
    target: str
    filter: str
    gain: str
    site: Site | None


def recorded(
    patterns: Sequence[str],
    services: Services,
    *,
    rig: Rig | None,
    site_named: bool,
    clock_offset_s: float = 0.0,
    progress: Progress | None = None,
) -> Recorded:
    """Read every file; those that cannot be used are told, the others go on."""
    fits_files.need_astropy()
    complaints: list[str] = []
    files = _files(expanded(patterns), rig, complaints, progress)
    if not files:
        empty = Session()
        return Recorded(
            session=empty, services=services, frames={}, complaints=complaints
        )
    return _gathered(files, services, site_named, clock_offset_s, complaints)


def _files(
    paths: Sequence[str],
    rig: Rig | None,
    complaints: list[str],
    progress: Progress | None,
) -> list[_File]:
    """What can be used, in order of time."""
    failures = fits_files.failures()
    files: list[_File] = []
    for done, path in enumerate(paths):
        if progress is not None:
            progress("reading headers", done, len(paths))
        try:
            files.append(_read(path, rig, complaints))
        except failures as error:
            complaints.append(f"{path}: {fits_files.why(path, error)}")
    return sorted(files, key=lambda one: one.exposure.start)


def _gathered(
    files: Sequence[_File],
    services: Services,
    site_named: bool,
    clock_offset_s: float,
    complaints: list[str],
) -> Recorded:
    notes: list[Note] = [*_clock_notes(clock_offset_s), *_unsolved_notes(files)]
    if not site_named:
        site = _site(files, notes)
        services = services.moved(site=site) if site else services
    rigs = _rigs(files)
    subs = [
        _sub(index, one, rigs[id(one.rig)], clock_offset_s)
        for index, one in enumerate(files, 1)
    ]
    window = Span(start=subs[0].start, end=max(sub.end for sub in subs))
    services = services.moved(window=window)
    session = Session(
        night=services.night,
        rigs=tuple({rig.name: rig for rig in rigs.values()}.values()),
        targets=tuple(dict.fromkeys(sub.target for sub in subs)),
        subs=tuple(subs),
    )
    frames = {sub.index: one.frame for sub, one in zip(subs, files, strict=True)}
    return Recorded(
        session=session,
        services=services,
        frames=frames,
        complaints=complaints,
        notes=tuple(notes),
    )


def _clock_notes(clock_offset_s: float) -> list[Note]:
    if not clock_offset_s:
        return []
    text = f"The camera's clock was taken to be {clock_offset_s:+g} s off."
    return [Note(text=text)]


def _unsolved_notes(files: Sequence[_File]) -> list[Note]:
    """Where fields are only as good as a mount's word."""
    rough = [one for one in files if one.frame.loose_deg > 0.0]
    if not rough:
        return []
    turned = sorted({round(one.frame.position_angle_deg, 1) for one in rough})
    return [
        Note(
            text=f"{len(rough)} of {len(files)} files have no plate solution: their "
            f"fields are taken from RA and Dec, within {60 * _POINTED_DEG:g}′, with up "
            f"at {', '.join(f'{one:g}°' for one in turned[:4])}.",
            severity="caution",
            values={"files": len(rough)},
        )
    ]


def expanded(patterns: Sequence[str]) -> list[str]:
    """Files that patterns and folders stand for, in order of name, each once."""
    found: dict[str, None] = {}
    for pattern in patterns:
        place = Path(os.path.expanduser(pattern))
        if place.is_dir():
            names = sorted(
                str(one)
                for one in place.iterdir()
                if one.name.casefold().endswith(_SUFFIXES)
            )
        elif glob.has_magic(pattern) and not place.exists():
            names = sorted(glob.glob(str(place), recursive=True))
        else:
            names = [str(place)]
        if not names:
            raise InputError(f"--subs {pattern}: no file matches")
        found.update(dict.fromkeys(names))
    return list(found)


def _read(path: str, rig: Rig | None, complaints: list[str]) -> _File:
    opened = fits_files.open_header(path)
    header = opened.words()
    kind = headers.kind_of(header)
    if kind:
        raise InputError(f"is a {kind} frame; left out")
    exposure = exposure_of(header, opened.comments)
    equinox = equinox_of(header, exposure.start)
    solved = solved_frame(opened.header, equinox)
    remarks = [*opened.remarks, *exposure.remarks]
    used = rig or headers.rig_from(header, solved.scale_arcsec_px if solved else nan)
    frame = solved or _unsolved(header, equinox, used, remarks)
    complaints.extend(f"{path}: {text}" for text in remarks)
    return _File(
        path=path,
        exposure=exposure,
        frame=frame,
        rig=used,
        target=headers.text_of(header, "OBJECT") or "field",
        filter=headers.text_of(header, "FILTER", "FILTER1"),
        gain=headers.text_of(header, "GAIN"),
        site=headers.site_of(header),
    )


def _unsolved(
    header: Mapping[str, Any], equinox: Equinox | None, rig: Rig, remarks: list[str]
) -> Frame:
    """A frame from RA and Dec keywords and the rig's scale and rotation."""
    middle = headers.pointing_of(header)
    remarks += headers.pointing_remarks(header)
    ra_deg, dec_deg = middle.ra_deg, middle.dec_deg
    if equinox:
        ra_deg, dec_deg = map(float, equinox.to_icrs(ra_deg, dec_deg))
    target = Target(
        name="field",
        ra_deg=ra_deg,
        dec_deg=dec_deg,
        position_angle_deg=rig.rotation_deg,
    )
    frame = frame_of(target, rig, _POINTED_DEG)
    width, height = headers.size_of(header)
    if rig.name == headers.HEADERS_RIG:
        return replace(frame, width_px=width, height_px=height)
    binning = headers.binning_of(header)
    if (width * binning, height * binning) != frame.size_px:
        remarks.append(
            f"its {width} × {height} px are not the whole frame of rig {rig.name}; "
            "taken from the middle"
        )
    scale = rig.scale_arcsec_px * binning
    return replace(frame, width_px=width, height_px=height, scale_arcsec_px=scale)


def _site(files: Sequence[_File], notes: list[Note]) -> Site | None:
    """The site that most headers name."""
    sites = [one.site for one in files if one.site is not None]
    if not sites:
        return None
    counts: dict[tuple[float, float], int] = {}
    for site in sites:
        key = site.latitude_deg, site.longitude_deg
        counts[key] = counts.get(key, 0) + 1
    most = max(counts, key=lambda key: counts[key])
    if len(counts) > 1:
        notes.append(
            Note(
                text=f"The headers name {len(counts)} sites; the one most of them have "
                "is taken. Give --site to settle it.",
                severity="caution",
            )
        )
    return next(s for s in sites if (s.latitude_deg, s.longitude_deg) == most)


def _rigs(files: Sequence[_File]) -> dict[int, Rig]:
    """Each file's rig under a name of its own; like rigs share one."""
    distinct: dict[Rig, Rig] = {}
    named: dict[int, Rig] = {}
    for one in files:
        if one.rig not in distinct:
            number = len(distinct)
            name = one.rig.name if not number else f"{one.rig.name} {number + 1}"
            distinct[one.rig] = replace(one.rig, name=name)
        named[id(one.rig)] = distinct[one.rig]
    return named


def _sub(index: int, one: _File, rig: Rig, clock_offset_s: float) -> Sub:
    frame = one.frame
    return Sub(
        index=index,
        start=one.exposure.start - timedelta(seconds=clock_offset_s),
        exposure_s=one.exposure.exposure_s,
        target=Target(
            name=one.target,
            ra_deg=frame.ra_deg,
            dec_deg=frame.dec_deg,
            position_angle_deg=frame.position_angle_deg,
        ),
        rig=rig.name,
        filter=one.filter,
        gain=one.gain,
        path=one.path,
        start_jitter_s=_SHUTTER_S + _EVEN * one.exposure.resolution_s,
    )
