"""Every reader as fuzzing calls it: bytes in, and out comes a reading or a refusal.

Each reader also does what the program does next with what was read, so that a value
that is let in and breaks something later counts too.
"""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import fuzz_seeds as seeds
import numpy as np
from fuzz_mutating import (
    Mutate,
    spoilt,
    spoilt_fits,
    spoilt_gzip,
    spoilt_nmea,
    spoilt_tle,
)

from passes import elements, nmea, objects, plans
from passes.config import reading as config_reading
from passes.config import to_table, writing
from passes.config.horizon import read_horizon
from passes.ephemeris import read_messages
from passes.ephemeris.interpolation import places
from passes.errors import InputError, PassesError
from passes.forecast import ticking
from passes.objects.standard_text import read_standard_file
from passes.plans import schedule
from passes.testing.services import FakeServices
from passes_plugins import web_source
from passes_plugins.imaging import choices as imaging_choices
from passes_plugins.scheduling import leads
from passes_plugins.scheduling.cueing.memory import Memory
from passes_plugins.streaks import choices, from_files, gate_command, gating
from passes_plugins.transits.area import read_area


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """One reader: ``read`` takes a file's bytes, ``seeds`` are sound ones."""

    name: str
    read: Callable[[bytes], object]
    seeds: tuple[bytes, ...]
    mutate: Mutate = spoilt


@cache
def _folder() -> Path:
    """A folder of this process."""
    made = tempfile.TemporaryDirectory(prefix="passes-fuzz-")
    _KEPT.append(made)
    return Path(made.name)


_KEPT: list[Any] = []  # removed when the process ends


def _file(data: bytes, name: str) -> Path:
    path = _folder() / name
    path.write_bytes(data)
    return path


# --- what is called -----------------------------------------------------------------


def _published(reading: elements.Reading) -> None:
    """What is kept of element sets is written again in both forms."""
    fits = elements.fits_tle(reading.catalogue)
    elements.tle_text(reading.catalogue.take(np.flatnonzero(fits)))
    elements.omm_text(reading.catalogue)


def _elements(data: bytes) -> None:
    _published(elements.read_text(data))


def _element_file(data: bytes) -> None:
    _published(elements.read([_file(data, "sets.gz")]))


def _ephemeris(data: bytes) -> None:
    for message in read_messages(data, "message"):
        for one in message.segments:
            middle = (one.start_s + one.stop_s) / 2.0
            places(one, np.array([one.start_s, middle, one.stop_s]))
            assert one.start <= one.stop


def _nmea(data: bytes) -> None:
    """What the site command and the clock's check read: never an error at all."""
    best = nmea.read_nmea(data.decode("ascii", "replace")).best
    if best is not None:
        assert -90.0 <= best.latitude_deg <= 90.0
        assert -180.0 <= best.longitude_deg <= 180.0


def _clock(data: bytes) -> None:
    ticking.compare(str(_file(data, "receiver.nmea")), None)  # type: ignore[arg-type]


def _horizon(data: bytes) -> None:
    with _file(data, "horizon.csv").open(encoding="utf-8-sig", errors="replace") as it:
        read_horizon(it, "horizon.csv")


def _config(data: bytes) -> None:
    found = config_reading.load_text(data, Path("passes.toml"))
    for record in (*found.sites.values(), *found.rigs.values()):
        to_table(record)
    choices.Choices.of(found.settings("streaks"))
    imaging_choices.Choices.of(found.settings("imaging"))
    leads.Leads.of(found.settings("scheduling"), {})
    for source in found.sources.values():
        web_source.check_address(web_source._wanted(source).url)


def _config_edit(data: bytes) -> None:
    def change(document: Any) -> None:
        writing.table_of(document, "sites", "new")["latitude_deg"] = 1.0
        writing.table_of(document, "sites", "new")["longitude_deg"] = 2.0
        writing.table_of(document, "defaults")["site"] = "new"

    writing.edit(_file(data, "passes.toml"), change)


def _plan(data: bytes) -> None:
    plan = plans.read_plan(_file(data, "plan.toml"))
    plans.subs_of(plan)
    plans.plan_text(plan)


def _schedule(data: bytes) -> None:
    found = schedule.read_schedule_text(data)
    schedule.schedule_text(found.schedule.steps)
    for entry in found.entries:
        schedule.json_line(entry.document)


def _state(data: bytes) -> None:
    Memory(_file(data, "state")).close()


def _gate_list(data: bytes) -> None:
    listed = gating.read_list(_file(data, "gate.json"))
    gate = gating.Gate(listed)
    for share in (0.0, 0.5):
        now = listed.start + share * (listed.end - listed.start)
        gating.answer_document(gate.ask(now, 60.0), listed.demo)


def _gate_question(data: bytes) -> None:
    for line in data.splitlines():
        gate_command._question(line[:4096])


def _fits(data: bytes) -> None:
    services = FakeServices()
    packed = data.startswith(b"\x1f\x8b")
    path = _file(data, "sub.fits.gz" if packed else "sub.fits")
    found = from_files.recorded([str(path)], services, rig=None, site_named=False)
    if not found.session.subs:
        raise InputError("; ".join(found.complaints))
    (frame,) = found.frames.values()
    frame.pixels(np.array(frame.ra_deg), np.array(frame.dec_deg))


def _sizes(data: bytes) -> None:
    read = objects.read_size_file
    read.cache_clear()
    table = read(str(_file(data, "sizes.csv")))
    objects.size_in(table, 80001, "STATION 1")


def _magnitudes(data: bytes) -> None:
    read_standard_file(_file(data, "magnitudes.csv"))


def _area(data: bytes) -> None:
    area = read_area(_file(data, "area.geojson"), 10.0)
    area.holds(np.array([10.0, 11.0]), np.array([45.0, 90.0]))


# --- all of them ----------------------------------------------------------------------


@cache
def readers() -> dict[str, Reader]:
    """Every reader by its name."""
    good, tables = seeds.FIXTURES / "elements" / "readers", seeds.DEMO
    of, broken = seeds.of, seeds.broken
    config = b"\n".join((*of(tables, "rigs.toml", "sites.toml"), seeds.CONFIG))
    configs = (config, seeds.SMALL_CONFIG, *broken("config*"))
    plan = (*of(tables, "session.toml"), seeds.PLAN, seeds.SUBS, *broken("plan*"))
    sites = seeds.FIXTURES / "sites"
    received = (*of(sites, "*.nmea"), seeds.RECEIVED, *broken("*.nmea"))
    listed: tuple[tuple[str, Callable[[bytes], object], tuple[bytes, ...]], ...] = (
        ("tle", _elements, of(good, "*.tle") + broken("*.tle")),
        ("tle file", _element_file, of(good, "*.tle*") + broken("*.gz")),
        ("omm json", _elements, of(good, "*.json") + broken("*.json")),
        ("omm csv", _elements, of(good, "*.csv") + broken("fields.csv", "cells.csv")),
        ("omm xml", _elements, of(good, "*.xml") + broken("*.xml")),
        ("omm kvn", _elements, of(good, "*.kvn") + broken("*.kvn")),
        ("oem kvn", _ephemeris, seeds.ephemerides("*.oem") + broken("*.oem")),
        ("oem xml", _ephemeris, seeds.ephemerides("*.xml") + broken("oem*.xml")),
        ("nmea", _nmea, received),
        ("clock", _clock, received),
        ("horizon", _horizon, of(sites, "*.csv") + broken("horizon*")),
        ("config", _config, configs),
        ("config edit", _config_edit, configs),
        ("plan", _plan, plan),
        ("schedule", _schedule, (seeds.STEPS, *broken("*.jsonl"))),
        ("cue state", _state, (seeds.STATE, *broken("*.state"))),
        ("gate list", _gate_list, (seeds.GATE, *broken("gate-list*"))),
        ("gate line", _gate_question, (seeds.QUESTION, *broken("gate-line*"))),
        ("fits", _fits, of(seeds.FIXTURES / "fits", "*.fit*") + broken("*.fits")),
        ("sizes", _sizes, of(tables, "sizes.csv") + broken("sizes*")),
        ("magnitudes", _magnitudes, of(tables, "magnitudes.csv")),
        ("area", _area, (seeds.AREA, *broken("*.geojson"))),
    )
    return {
        name: Reader(
            name=name, read=read, seeds=found, mutate=_MUTATE.get(name, spoilt)
        )
        for name, read, found in listed
    }


_MUTATE: dict[str, Mutate] = {
    "tle": spoilt_tle,
    "tle file": spoilt_gzip,
    "nmea": spoilt_nmea,
    "clock": spoilt_nmea,
    "fits": spoilt_fits,
}


def together() -> Reader:
    """All of them as one: the first byte says which; for a short run in one process."""
    every = list(readers().values())

    def chosen(data: bytes) -> Reader:
        return every[data[0] % len(every)]

    def read(data: bytes) -> None:
        if data:
            chosen(data).read(data[1:])

    def mutate(data: bytes, rnd: Random) -> bytes:
        data = data or b"\0"
        return data[:1] + chosen(data).mutate(data[1:], rnd)

    sound = (bytes([i]) + one for i, each in enumerate(every) for one in each.seeds)
    return Reader(name="all", read=read, seeds=tuple(sound), mutate=mutate)


def named(name: str) -> Reader:
    """One reader by its name; ``all`` for all of them as one."""
    return together() if name == "all" else readers()[name]


# --- what may come out ------------------------------------------------------------


def outcome(reader: Reader, data: bytes) -> str:
    """``read`` or ``refused``; whatever else a reader raises is let through.

    A warning counts as a fault, and so does a refusal of more than two lines.
    """
    told = ""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            reader.read(data)
        except PassesError as error:
            told = str(error) or "nothing at all"
    assert len(told.splitlines()) <= 2, f"a refusal of many lines: {told[:200]!r}"
    return "refused" if told else "read"


def spoilt_seed(reader: Reader, rnd: Random) -> bytes:
    """One of a reader's seeds, spoilt."""
    return reader.mutate(rnd.choice(reader.seeds), rnd)
