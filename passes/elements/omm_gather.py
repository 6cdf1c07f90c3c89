"""Messages from a stream to columns, a few thousand at a time.

A reader of one form yields records as they come; only one batch of them is held.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import islice

import numpy as np

from passes.elements import omm
from passes.elements.catalogue import Skipped
from passes.elements.parsed import Parsed, too_many

#: How many records are held as mappings at once.
BATCH = 4000


@dataclass(slots=True)
class Entry:
    """One record, where it stood (``file:line``), and what is already known wrong."""

    where: str
    fields: dict[str, str] = field(default_factory=dict)
    fault: str = ""

    def put(self, key: str, value: str) -> None:
        """Add a field; one that is given twice spoils the record."""
        if key in self.fields and self.fields[key] != value:
            self.fault = self.fault or f"{omm.shown(key)} is given twice"
        self.fields[key] = value


def gather(entries: Iterable[Entry], form: str, where: str, most: int) -> Parsed:
    """Columns of every good record; the others are told.

    Raises ElementsError beyond ``most`` records.
    """
    whole, _ = omm.convert([], form)
    rest = iter(entries)
    parts = [whole]
    while batch := list(islice(rest, BATCH)):
        part = _converted(batch, form, whole.records)
        whole.records += len(batch)
        if whole.records > most:
            raise too_many(where, most)
        whole.rejected += part.rejected
        parts.append(part)
    whole.columns = np.concatenate([part.columns for part in parts])
    whole.numbers = np.concatenate([part.numbers for part in parts])
    for part in parts[1:]:
        whole.names += part.names
        whole.designators += part.designators
        whole.satrecs += part.satrecs
        whole.details += part.details
    return whole


def _converted(batch: list[Entry], form: str, before: int) -> Parsed:
    """One batch, of which so many records came ``before``."""
    records = [entry.fields for entry in batch]
    parsed, faults = omm.convert(records, form)
    faults |= {row: entry.fault for row, entry in enumerate(batch) if entry.fault}
    for row in sorted(faults):
        number, name = omm.name_of(records[row])
        parsed.rejected.append(
            Skipped(
                catalog_number=number,
                name=name,
                reason=f"record {before + row + 1}: {faults[row]}",
                where=batch[row].where,
            )
        )
    parsed.keep(~np.isin(np.arange(len(batch)), list(faults)))
    return parsed
