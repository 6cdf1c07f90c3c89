"""Which kept sets are handed over, or forgotten."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from sqlite3 import Connection
from typing import Any

from passes.archive.records import Kept
from passes.archive.rows import from_us, unpack, without_collecting
from passes.elements import Catalogue

#: The epoch of an object's set nearest to a time: one step into the index, or two for
#: a time within its history.
NEAREST_EPOCH = """CASE
    WHEN o.newest_us <= :middle THEN o.newest_us
    WHEN o.oldest_us >= :middle THEN o.oldest_us
    ELSE (
        SELECT CASE WHEN :middle - before < after - :middle THEN before ELSE after END
        FROM (SELECT
            (SELECT max(epoch_us) FROM sets WHERE
                catalog_number = o.catalog_number AND epoch_us <= :middle) AS before,
            (SELECT min(epoch_us) FROM sets WHERE
                catalog_number = o.catalog_number AND epoch_us > :middle) AS after)
    ) END"""
_NEAREST = f"""
SELECT s.catalog_number, s.packed, o.name, o.designator, s.batch
FROM objects AS o CROSS JOIN sets AS s
ON s.catalog_number = o.catalog_number AND s.epoch_us = {NEAREST_EPOCH}
"""
_SETS = """
SELECT s.catalog_number, s.packed, o.name, o.designator, s.batch
FROM sets AS s JOIN objects AS o USING (catalog_number)
"""
_ORDER = " ORDER BY s.catalog_number, s.epoch_us"
#: From the last set of each object back, one step at a time for all of them: rows of a
#: recursive query come first in, first out, and only as many as are taken.
_PAIRS = """
WITH RECURSIVE steps (catalog_number, newer_us, older_us) AS (
    SELECT catalog_number, NULL, (
        SELECT max(epoch_us) FROM sets WHERE catalog_number = o.catalog_number
        AND epoch_us BETWEEN :since AND :until)
    FROM objects AS o {where}
    UNION ALL
    SELECT catalog_number, older_us, (
        SELECT max(epoch_us) FROM sets WHERE catalog_number = steps.catalog_number
        AND epoch_us < older_us AND epoch_us >= :since)
    FROM steps WHERE older_us IS NOT NULL
)
SELECT steps.catalog_number, older.packed, newer.packed
FROM steps
CROSS JOIN sets AS older ON older.catalog_number = steps.catalog_number
    AND older.epoch_us = steps.older_us
CROSS JOIN sets AS newer ON newer.catalog_number = steps.catalog_number
    AND newer.epoch_us = steps.newer_us
LIMIT :most
"""
_TIDY = (
    "DELETE FROM objects WHERE NOT EXISTS (SELECT 1 FROM sets "
    "WHERE sets.catalog_number = objects.catalog_number)",
    "UPDATE objects SET (oldest_us, newest_us) = (SELECT min(epoch_us), max(epoch_us) "
    "FROM sets WHERE sets.catalog_number = objects.catalog_number)",
    "DELETE FROM batches WHERE batch NOT IN (SELECT batch FROM sets)",
)


def nearest(db: Connection | None, middle_us: int, publishing: bool) -> Catalogue:
    """Each object's set nearest to a time, by catalogue number."""
    return _catalogue(db, _NEAREST, {"middle": middle_us}, publishing)


def history(db: Connection | None, number: int, publishing: bool) -> Catalogue:
    """Every set of one object, by epoch."""
    where = " WHERE s.catalog_number = ?"
    return _catalogue(db, _SETS + where + _ORDER, (number,), publishing)


def every(db: Connection | None) -> Catalogue:
    """Every set there is, with what publishing needs."""
    return _catalogue(db, _SETS + _ORDER, (), True)


def kept(db: Connection | None, number: int) -> list[Kept]:
    """Every set of one object with its origin and arrival."""
    if db is None:
        return []
    rows = db.execute(
        "SELECT b.origin, b.arrived_us FROM sets AS s JOIN batches AS b USING (batch)"
        " WHERE s.catalog_number = ? ORDER BY s.epoch_us",
        (number,),
    ).fetchall()
    sets = history(db, number, False)
    return [
        Kept(element_set=one, origin=origin, arrived=from_us(arrived))
        for one, (origin, arrived) in zip(sets, rows, strict=True)
    ]


def pairs(
    db: Connection | None,
    numbers: Sequence[int] | None,
    span_us: tuple[int, int],
    most: int,
) -> tuple[Catalogue, Catalogue]:
    """Successive sets of the same objects, older and newer."""
    rows: list[Any] = []
    names: dict[int, tuple[str, str]] = {}
    if db is not None:
        where = "" if numbers is None else "WHERE catalog_number IN wanted"
        with _wanted(db, numbers or ()):
            values = {"since": span_us[0], "until": span_us[1], "most": most}
            rows = db.execute(_PAIRS.format(where=where), values).fetchall()
        names = {n: (name, text) for n, name, text in db.execute(_OBJECTS)}
    named = [names[row[0]] for row in rows]
    older, newer = (
        unpack(
            [row[0] for row in rows],
            [row[side] for row in rows],
            [name for name, _ in named],
            [text for _, text in named],
            [""] * len(rows),
        )
        for side in (1, 2)
    )
    return older, newer


_OBJECTS = "SELECT catalog_number, name, designator FROM objects"


@contextmanager
def _wanted(db: Connection, numbers: Sequence[int]) -> Iterator[None]:
    """A passing table of catalogue numbers; it lives in memory, not in the file."""
    db.execute("CREATE TEMP TABLE wanted (catalog_number INTEGER PRIMARY KEY)")
    db.executemany("INSERT OR IGNORE INTO wanted VALUES (?)", [(n,) for n in numbers])
    try:
        yield
    finally:
        db.execute("DROP TABLE wanted")


def forget(db: Connection, numbers: Sequence[int], before_us: int | None) -> int:
    """Delete sets, then the objects and origins that have none left."""
    where, values = _forgetting(numbers, before_us)
    with _wanted(db, numbers):
        gone = db.execute(f"DELETE FROM sets {where}", values).rowcount
    for statement in _TIDY:
        db.execute(statement)
    return gone


def would_forget(db: Connection, numbers: Sequence[int], before_us: int | None) -> int:
    """How many sets :func:`forget` would delete."""
    where, values = _forgetting(numbers, before_us)
    with _wanted(db, numbers):
        count = db.execute(f"SELECT count(*) FROM sets {where}", values).fetchone()[0]
    return int(count)


def _forgetting(
    numbers: Sequence[int], before_us: int | None
) -> tuple[str, dict[str, int]]:
    """The condition, which must never be empty: that would mean everything."""
    if not numbers and before_us is None:
        raise ValueError("say which objects to forget, or before which time")
    conditions = ["catalog_number IN wanted"] if numbers else []
    conditions += ["epoch_us < :before"] if before_us is not None else []
    values = {} if before_us is None else {"before": before_us}
    return "WHERE " + " AND ".join(conditions), values


def _catalogue(
    db: Connection | None, query: str, values: Any, publishing: bool
) -> Catalogue:
    if db is None:
        return unpack([], [], [], [], [])
    with without_collecting():
        rows = db.execute(query, values).fetchall()
        numbers, packed, names, designators, batches = (
            zip(*rows, strict=True) if rows else ((),) * 5
        )
    origins = dict(db.execute("SELECT batch, origin FROM batches").fetchall())
    return unpack(
        numbers,
        packed,
        names,
        designators,
        [origins[batch] for batch in batches],
        publishing=publishing,
    )
