"""Adding: every new set, nothing twice, names as fresh as their sets."""

from __future__ import annotations

from sqlite3 import Connection

import numpy as np

from passes.archive.records import Added
from passes.archive.rows import epochs_us, pack
from passes.elements import Catalogue

_INSERT = "INSERT OR IGNORE INTO sets VALUES (?, ?, ?, ?)"
#: A name comes with the newest set that has one.
_NAME = """
INSERT INTO objects VALUES (?, ?, ?, ?) ON CONFLICT (catalog_number) DO UPDATE SET
    name = CASE WHEN excluded.name = '' THEN name ELSE excluded.name END,
    designator = CASE WHEN excluded.designator = '' THEN designator
                      ELSE excluded.designator END,
    named_us = excluded.named_us
WHERE excluded.named_us >= named_us OR name = ''
"""


def add_batch(
    db: Connection,
    catalogue: Catalogue,
    arrived_us: int,
    origin: str | None,
    aside: str,
) -> Added:
    """Put the sets in, inside the transaction that is under way."""
    objects = db.execute("SELECT count(*) FROM objects").fetchone()[0]
    batches = {
        word: _batch(db, word, arrived_us)
        for word in ([origin] if origin is not None else sorted(set(catalogue.origin)))
    }
    chosen = [origin] * len(catalogue) if origin is not None else catalogue.origin
    epochs = epochs_us(catalogue)
    order = np.lexsort((epochs, catalogue.catalog_number)).tolist()
    numbers, when = catalogue.catalog_number.tolist(), epochs.tolist()
    packed = pack(catalogue)
    before = db.total_changes
    db.executemany(
        _INSERT,
        [(numbers[i], when[i], packed[i], batches[chosen[i]]) for i in order],
    )
    new = db.total_changes - before
    db.executemany(_NAME, _names(catalogue, order, numbers, when))
    if not new:
        db.executemany(
            "DELETE FROM batches WHERE batch = ?", [(b,) for b in batches.values()]
        )
    after = db.execute("SELECT count(*) FROM objects").fetchone()[0]
    return Added(sets=len(catalogue), new=new, new_objects=after - objects, aside=aside)


def _batch(db: Connection, origin: str, arrived_us: int) -> int:
    cursor = db.execute(
        "INSERT INTO batches (origin, arrived_us) VALUES (?, ?)", (origin, arrived_us)
    )
    assert cursor.lastrowid is not None
    return cursor.lastrowid


def _names(
    catalogue: Catalogue, order: list[int], numbers: list[int], when: list[int]
) -> list[tuple[int, str, str, int]]:
    """The newest name of each object, from rows ordered by number and epoch."""
    newest: dict[int, tuple[int, str, str, int]] = {}
    for i in order:
        number, name = numbers[i], catalogue.name[i]
        if name or number not in newest:
            newest[number] = (number, name, catalogue.designator[i], when[i])
    return list(newest.values())
