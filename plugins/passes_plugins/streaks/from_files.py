"""From the files of a night to a session: subs, frames, rig and site."""

from __future__ import annotations

import glob
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
from passes_plugins.streaks.frames import Frame, frame_of
from passes_plugins.streaks.header_times import Exposure, exposure_of

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
    paths = expanded(patterns)
    failures = fits_files.failures()
    complaints: list[str] = []
    files: list[_File] = []
    for done, path in enumerate(paths):
        if progress is not None:
            progress("reading headers", done, len(paths))
        try:
            one = _read(path, rig, complaints)
        except failures as error:
            complaints.append(f"{path}: {fits_files.why(path, error)}")
            continue
        files.append(one)
    files.sort(key=lambda one: one.exposure.start)
    if not files:
        empty = Session()
        return Recorded(
            session=empty, services=services, frames={}, complaints=complaints
        )
    return _gathered(files, services, site_named, clock_offset_s, complaints)


def _gathered(
    files: Sequence[_File],
    services: Services,
    site_named: bool,
    clock_offset_s: float,
    complaints: list[str],
) -> Recorded:
    notes: list[Note] = []
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
    if clock_offset_s:
        text = f"The camera's clock was taken to be {clock_offset_s:+g} s off."
        notes.append(Note(text=text))
    frames = {sub.index: one.frame for sub, one in zip(subs, files, strict=True)}
    return Recorded(
        session=session,
        services=services,
        frames=frames,
        complaints=complaints,
        notes=tuple(notes),
    )


def expanded(patterns: Sequence[str]) -> list[str]:
    """Files that patterns and folders stand for, in order of name, each once."""
    found: dict[str, None] = {}
    for pattern in patterns:
        place = Path(pattern).expanduser()
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
    header = opened.header
    kind = headers.kind_of(header)
    if kind:
        raise InputError(f"is a {kind} frame; left out")
    exposure = exposure_of(header, opened.comments)
    frame = fits_files.solved_frame(opened)
    remarks = [*opened.remarks, *exposure.remarks]
    used = rig or headers.rig_from(header, frame.scale_arcsec_px if frame else nan)
    if frame is None:
        frame = _unsolved(headers.pointing_of(header), header, used, remarks)
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
    middle: headers.Pointing, header: Mapping[str, Any], rig: Rig, remarks: list[str]
) -> Frame:
    """A frame from RA and Dec keywords and the rig's scale and rotation."""
    width, height = headers.size_of(header)
    binning = headers.binning_of(header)
    target = Target(
        name="field",
        ra_deg=middle.ra_deg,
        dec_deg=middle.dec_deg,
        position_angle_deg=rig.rotation_deg,
    )
    made_of_header = rig.name == headers.HEADERS_RIG
    scale = rig.scale_arcsec_px * (1 if made_of_header else binning)
    if not made_of_header and (width * binning, height * binning) != (
        rig.width_px,
        rig.height_px,
    ):
        remarks.append(
            f"its {width} × {height} px are not the whole frame of rig {rig.name}; "
            "taken from the middle"
        )
    return replace(
        frame_of(target, rig), width_px=width, height_px=height, scale_arcsec_px=scale
    )


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
