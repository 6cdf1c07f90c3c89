"""Adding: every new set, nothing twice, names as fresh as their sets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain
from sqlite3 import Connection
from typing import Any

import numpy as np

from passes.archive.records import Added
from passes.archive.rows import epochs_us, pack
from passes.elements import Catalogue

#: Rows put in by one statement: quicker than one by one.
_ROWS = 500

#: catalogue number, name, designator, first and last epoch
ObjectRow = tuple[int, str, str, int, int]


def add_batch(
    db: Connection,
    catalogue: Catalogue,
    arrived_us: int,
    origin: str | None,
    aside: str,
) -> Added:
    """Put the sets in, inside the transaction that is under way."""
    origins = catalogue.origin if origin is None else (origin,) * len(catalogue)
    batches = {word: _batch(db, word, arrived_us) for word in sorted(set(origins))}
    epochs = epochs_us(catalogue)
    order = np.lexsort((epochs, catalogue.catalog_number)).tolist()
    numbers, when = catalogue.catalog_number.tolist(), epochs.tolist()
    packed = pack(catalogue)
    rows = [(numbers[i], when[i], packed[i], batches[origins[i]]) for i in order]
    new = _insert(db, "OR IGNORE INTO sets", rows)
    if not new:
        db.executemany(
            "DELETE FROM batches WHERE batch = ?", [(b,) for b in batches.values()]
        )
    known = {row[0]: row for row in db.execute("SELECT * FROM objects")}
    before = len(known)
    changed = set(_changed(known, catalogue, order, numbers, when))
    _insert(db, "OR REPLACE INTO objects", [known[number] for number in changed])
    return Added(
        sets=len(catalogue), new=new, new_objects=len(known) - before, aside=aside
    )


def _insert(db: Connection, where: str, rows: Sequence[tuple[Any, ...]]) -> int:
    """Put rows in, many a statement; how many were taken."""
    before = db.total_changes
    for start in range(0, len(rows), _ROWS):
        some = rows[start : start + _ROWS]
        places = f"({','.join('?' * len(some[0]))})"
        values = ",".join([places] * len(some))
        db.execute(f"INSERT {where} VALUES {values}", tuple(chain.from_iterable(some)))
    return db.total_changes - before


def _batch(db: Connection, origin: str, arrived_us: int) -> int:
    cursor = db.execute(
        "INSERT INTO batches (origin, arrived_us) VALUES (?, ?)", (origin, arrived_us)
    )
    assert cursor.lastrowid is not None
    return cursor.lastrowid


def _changed(
    known: dict[int, ObjectRow],
    catalogue: Catalogue,
    order: Sequence[int],
    numbers: Sequence[int],
    when: Sequence[int],
) -> Iterator[int]:
    """Bring the objects up to date; the numbers of those that are not as before."""
    names, designators = catalogue.name, catalogue.designator
    for i in order:
        number = numbers[i]
        old = known.get(number)
        new = (number, names[i], designators[i], when[i], when[i])
        if old is not None:
            new = _joined(old, new)
        if new != old:
            known[number] = new
            yield number


def _joined(old: ObjectRow, new: ObjectRow) -> ObjectRow:
    """Two accounts of one object: the words of the newer one, where it has any."""
    first, second = (old, new) if new[4] >= old[4] else (new, old)
    return (
        old[0],
        second[1] or first[1],
        second[2] or first[2],
        min(old[3], new[3]),
        max(old[4], new[4]),
    )
