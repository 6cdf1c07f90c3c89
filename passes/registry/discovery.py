"""Installed plugins, by the standard's own means and with little of the cost.

``importlib.metadata.entry_points`` parses the entry points of every distribution and
gives up at the first damaged file; most distributions do not even mention us.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from importlib import metadata

from passes.errors import InputError
from passes.hookspecs import ENTRY_POINT_GROUP
from passes.registry.guard import Failure, caught
from passes.registry.records import Origin, Problem

OWN_DISTRIBUTION = "passes"
_PLUGIN_NAME = re.compile(r"[\w.-]+\Z")


@dataclass(frozen=True, slots=True)
class Found:
    """An installed plugin, not yet imported."""

    origin: Origin
    load: Callable[[], object]


def installed(only: Iterable[str] | None) -> tuple[list[Found], list[Problem]]:
    """Plugins of all distributions, or of those named: our own first, then by name.

    Also returns a problem for each distribution whose metadata cannot be read.
    """
    wanted = None if only is None else {_normal(name) for name in only}
    seen: set[str] = set()
    found: list[Found] = []
    problems: list[Problem] = []
    for distribution in metadata.distributions():
        offers = caught(partial(_offers, distribution, wanted, seen))
        if isinstance(offers, Failure):
            problems.append(Problem(_nameless(distribution), "import", offers.error))
        else:
            found.extend(offers)
    return sorted(found, key=_order), problems


def _offers(
    distribution: metadata.Distribution, wanted: set[str] | None, seen: set[str]
) -> list[Found]:
    """The plugins of one distribution, unless it is unwanted or already seen."""
    if ENTRY_POINT_GROUP not in (distribution.read_text("entry_points.txt") or ""):
        return []
    head = distribution.metadata
    if "Name" not in head:
        raise InputError("its metadata gives no name; install it again")
    name = head["Name"]
    if _normal(name) in seen or (wanted is not None and _normal(name) not in wanted):
        return []
    seen.add(_normal(name))
    first = metadata.distribution(name)  # the one that the path puts first
    return [
        Found(Origin(point.name, name, first.version), partial(_load, point))
        for point in first.entry_points.select(group=ENTRY_POINT_GROUP)
    ]


def _load(point: metadata.EntryPoint) -> object:
    if not _PLUGIN_NAME.match(point.name):
        raise InputError("a plugin's name has letters, digits and . _ - only")
    if not point.pattern.match(point.value):
        raise InputError(f"the entry point {point.value!r} names no module")
    return point.load()


def _normal(name: str) -> str:
    """A distribution's name as the packaging standard compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def _order(found: Found) -> tuple[bool, str, str]:
    own = _normal(found.origin.distribution) == OWN_DISTRIBUTION
    return (not own, found.origin.plugin, found.origin.distribution)


def _nameless(distribution: metadata.Distribution) -> Origin:
    """An origin for a distribution that cannot be read: the folder it lies in."""
    folder = getattr(distribution, "_path", None)  # the standard offers no other way
    return Origin("?", getattr(folder, "name", ""))
