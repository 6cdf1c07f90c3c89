"""What the subcommands about the archive share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from passes.options import program

if TYPE_CHECKING:
    from passes.archive import Archive, Holdings

#: Classes without which a night is not predicted in full, and what lacks then.
MISSED = {
    "rocket body": "no rocket bodies, which are much of what the eye sees",
    "station": "no space stations",
}


def now() -> datetime:
    """The time now; tests put their own in its place."""
    return datetime.now(UTC)


def the_archive() -> Archive:
    """The archive that this run is about."""
    from passes.archive import Archive

    return Archive(program().archive_path())


def iso(moment: datetime | None) -> str | None:
    """A time as files have it."""
    if moment is None:
        return None
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def minute(moment: datetime) -> str:
    """A time as people read it, UTC."""
    return f"{moment:%Y-%m-%d %H:%M}"


def many(count: int, what: str) -> str:
    """``1 set``, ``2 sets``."""
    return f"{count:,} {what}" if count == 1 else f"{count:,} {what}s"


def holdings_document(held: Holdings) -> dict[str, Any]:
    """The JSON shape of what the archive holds."""
    return {
        "objects": held.objects,
        "sets": held.sets,
        "classes": dict(held.classes),
        "first_epoch": iso(held.first_epoch),
        "last_epoch": iso(held.last_epoch),
        "last_arrival": iso(held.last_arrival),
        "median_age_days": held.median_age_days,
        "oldest_age_days": held.oldest_age_days,
        "usable_objects": held.usable,
        "missing_classes": missing(held.classes),
    }


def missing(classes: Mapping[str, int]) -> list[str]:
    """Which important classes the archive has none of."""
    return [kind for kind in MISSED if not classes.get(kind)]


def holds(held: Holdings) -> str:
    """One sentence on what the archive holds, by class, and what it lacks."""
    from passes.tables import counted_classes

    if not held.objects:
        return "The archive is empty."
    said = (
        f"The archive holds {many(held.objects, 'object')} in "
        f"{many(held.sets, 'element set')}: {counted_classes(held.classes)}."
    )
    return said + lacks(held.classes)


def lacks(classes: Mapping[str, int]) -> str:
    """A sentence on the classes that are missing; nothing if none is."""
    absent = [MISSED[kind] for kind in missing(classes)]
    return f" It holds {' and '.join(absent)}." if absent else ""


def age(days: float) -> str:
    """An age in words: sets may be from after the time that is meant."""
    if days < 0:
        return f"{age(-days)} ahead"
    return f"{days * 24:.0f} h" if days < 1 else f"{days:.1f} d"


def numbers_of(archive: Archive, names: Iterable[str]) -> list[int]:
    """Catalogue numbers of the objects named, each by number or (part of) a name.

    A name that is one object's whole name means it alone.  UnknownName otherwise.
    """
    from passes.archive import Filter
    from passes.errors import UnknownName
    from passes.forecast.supply import similar

    found: list[int] = []
    for name in names:
        listed = archive.listing(now(), Filter(text=name))
        exact = [x for x in listed if x.name.casefold() == name.strip().casefold()]
        if not listed:
            every = (one.name for one in archive.listing(now(), Filter()))
            near = similar(every, name)
            raise UnknownName("object in the archive", name, near=near)
        found += [one.catalog_number for one in exact or listed]
    return list(dict.fromkeys(found))
