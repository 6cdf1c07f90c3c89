"""The archive as a whole, and one line an object."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from math import nan
from sqlite3 import Connection

import numpy as np

from passes.archive.records import Filter, Holdings
from passes.archive.rows import from_us, to_us
from passes.objects import object_class

_US_PER_DAY = 86_400_000_000
#: A set further than this from a night serves it no more, days.
USABLE_DAYS = 30.0
_LINES = """
SELECT catalog_number, name, designator, count(*), min(epoch_us), max(epoch_us)
FROM objects JOIN sets USING (catalog_number) GROUP BY catalog_number
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
    names = db.execute("SELECT name, designator FROM objects").fetchall()
    if not names:
        return Holdings()
    epochs = db.execute("SELECT catalog_number, epoch_us FROM sets").fetchall()
    table = np.array(epochs, dtype=np.int64)
    ages = _nearest_ages(table, to_us(now)) / _US_PER_DAY
    arrival = db.execute("SELECT max(arrived_us) FROM batches").fetchone()[0]
    classes = Counter(object_class([n for n, _ in names], [d for _, d in names]))
    return Holdings(
        objects=len(names),
        sets=len(table),
        classes=dict(classes.most_common()),
        first_epoch=from_us(int(table[:, 1].min())),
        last_epoch=from_us(int(table[:, 1].max())),
        last_arrival=None if arrival is None else from_us(arrival),
        median_age_days=float(np.median(ages)) if len(ages) else nan,
        oldest_age_days=float(ages.max()) if len(ages) else nan,
        usable=int((ages <= USABLE_DAYS).sum()),
    )


def _nearest_ages(table: np.ndarray, now_us: int) -> np.ndarray:
    """How far each object's nearest epoch is from a time, microseconds."""
    order = np.argsort(table[:, 0], kind="stable")
    numbers, away = table[order, 0], np.abs(table[order, 1] - now_us)
    starts = np.flatnonzero(np.diff(numbers, prepend=numbers[:1] - 1))
    return np.asarray(np.minimum.reduceat(away, starts))
