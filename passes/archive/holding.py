"""The archive as a whole, and one line an object."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from sqlite3 import Connection

import numpy as np

from passes.archive.records import Filter, Holdings
from passes.archive.rows import from_us, to_us
from passes.archive.selecting import NEAREST_EPOCH
from passes.objects import object_class

_US_PER_DAY = 86_400_000_000
#: A set further than this from a night serves it no more, days.
USABLE_DAYS = 30.0
_LINES = """
SELECT catalog_number, name, designator, count(*), min(epoch_us), max(epoch_us)
FROM objects JOIN sets USING (catalog_number) GROUP BY catalog_number
"""
_OBJECTS = f"""
SELECT name, designator, oldest_us, newest_us, {NEAREST_EPOCH} FROM objects AS o
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One object of the archive; the age is that of its newest set."""

    catalog_number: int
    name: str
    designator: str
    object_class: str
    sets: int
    first_epoch: datetime
    last_epoch: datetime
    age_days: float


def listing(db: Connection | None, now: datetime, chosen: Filter) -> list[Listed]:
    """Every object that the filter lets through, by catalogue number."""
    rows = [] if db is None else db.execute(_LINES).fetchall()
    classes = object_class([row[1] for row in rows], [row[2] for row in rows])
    now_us = to_us(now)
    listed = []
    for (number, name, designator, sets, first, last), kind in zip(
        rows, classes, strict=True
    ):
        age_days = (now_us - last) / _US_PER_DAY
        if _lets_through(chosen, number, name, designator, kind, age_days):
            listed.append(
                Listed(
                    catalog_number=number,
                    name=name,
                    designator=designator,
                    object_class=kind,
                    sets=sets,
                    first_epoch=from_us(first),
                    last_epoch=from_us(last),
                    age_days=age_days,
                )
            )
    return listed


def _lets_through(
    chosen: Filter, number: int, name: str, designator: str, kind: str, age: float
) -> bool:
    text = chosen.text.strip().casefold()
    if text.isdecimal():
        if number != int(text):
            return False
    elif text and text not in name.casefold() and text not in designator.casefold():
        return False
    if chosen.object_class and kind != chosen.object_class:
        return False
    if chosen.older_days is not None and age <= chosen.older_days:
        return False
    return chosen.newer_days is None or age <= chosen.newer_days


def holdings(db: Connection | None, now: datetime) -> Holdings:
    """The archive as a whole; ages of each object's set nearest to now."""
    if db is None:
        return Holdings()
    now_us = to_us(now)
    rows = db.execute(_OBJECTS, {"middle": now_us}).fetchall()
    if not rows:
        return Holdings()
    names, designators, oldest, newest, nearest = zip(*rows, strict=True)
    ages = np.abs(np.array(nearest, dtype=np.int64) - now_us) / _US_PER_DAY
    classes = Counter(object_class(names, designators))
    arrival = db.execute("SELECT max(arrived_us) FROM batches").fetchone()[0]
    return Holdings(
        objects=len(rows),
        sets=db.execute("SELECT count(*) FROM sets").fetchone()[0],
        classes=dict(classes.most_common()),
        first_epoch=from_us(min(oldest)),
        last_epoch=from_us(max(newest)),
        last_arrival=None if arrival is None else from_us(arrival),
        median_age_days=float(np.median(ages)),
        oldest_age_days=float(ages.max()),
        usable=int((ages <= USABLE_DAYS).sum()),
    )
