"""The archive as the rest of the program sees it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from sqlite3 import Connection

from passes.archive import holding, selecting, store
from passes.archive.adding import add_batch
from passes.archive.records import Added, Filter, Holdings, Kept, SourceState
from passes.archive.rows import from_us, to_us, without_collecting
from passes.elements import Catalogue
from passes.errors import ArchiveError


def default_path() -> Path:
    """Where the archive stands unless named; ArchiveError without a home folder."""
    from platformdirs import user_data_path

    path = user_data_path("passes", appauthor=False) / "elements.sqlite"
    if not path.is_absolute():
        raise ArchiveError("no home folder to keep an archive in; give --archive FILE")
    return path


#: Before and after every epoch.
_FIRST_US, _LAST_US = -(2**62), 2**62


class Archive:
    """Element sets kept in one file; nothing is opened before it is asked.

    Every method raises ArchiveError (one or two lines for people) where the file
    cannot be used, and Damaged, a kind of it, where it had to be set aside.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or default_path()
        self._own = path is None

    def __repr__(self) -> str:
        return f"Archive({str(self.path)!r})"

    # --- keeping -----------------------------------------------------------------

    def add(
        self, catalogue: Catalogue, arrived: datetime, origin: str | None = None
    ) -> Added:
        """Keep these sets, all or none; those already kept are left as they are.

        ``arrived`` is the time now; ``origin`` replaces the catalogue's own.  A
        damaged archive is set aside and a new one begun: ``Added.aside`` tells.
        """
        aside = ""
        try:
            store.check_whole(self.path, self._own)
        except store.Damaged as damaged:
            aside = str(damaged.aside)
        with store.writing(self.path, self._own) as db, without_collecting():
            return add_batch(db, catalogue, to_us(arrived), origin, aside)

    def forget(self, numbers: Sequence[int], before: datetime | None = None) -> int:
        """Forget all sets of some objects, or those with epochs before a time.

        No ``numbers`` with ``before`` means every object; how many sets went.
        """
        with store.writing(self.path, self._own) as db:
            return selecting.forget(db, numbers, None if not before else to_us(before))

    def would_forget(
        self, numbers: Sequence[int], before: datetime | None = None
    ) -> int:
        """How many sets :meth:`forget` would take."""
        limit = None if not before else to_us(before)
        with self._reading() as db:
            return 0 if db is None else selecting.would_forget(db, numbers, limit)

    # --- handing over --------------------------------------------------------------

    def nearest(self, middle: datetime, *, publishing: bool = False) -> Catalogue:
        """Each object's set whose epoch is nearest to an aware time.

        Rows by catalogue number.  Of two equally near the later one is taken.
        """
        with self._reading() as db:
            return selecting.nearest(db, to_us(middle), publishing)

    def history(self, number: int, *, publishing: bool = False) -> Catalogue:
        """Every set of one object, by epoch."""
        with self._reading() as db:
            return selecting.history(db, number, publishing)

    def every(self) -> Catalogue:
        """Every set of every object, by number and epoch, ready for publishing."""
        with self._reading() as db:
            return selecting.every(db)

    def kept(self, number: int) -> list[Kept]:
        """Every set of one object by epoch, with origin and time of arrival."""
        with self._reading() as db:
            return selecting.kept(db, number)

    def pairs(
        self,
        numbers: Sequence[int] | None = None,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        most: int = 20_000,
    ) -> tuple[Catalogue, Catalogue]:
        """Successive sets of the same objects: the older and the newer, row by row.

        Of all objects or of some, with epochs between two times where those are
        given; at most ``most`` pairs, the newest of each object first.
        """
        span = (
            to_us(since) if since else _FIRST_US,
            to_us(until) if until else _LAST_US,
        )
        with self._reading() as db:
            return selecting.pairs(db, numbers, span, most)

    # --- as a whole ------------------------------------------------------------------

    def holdings(self, now: datetime) -> Holdings:
        """What the archive holds, with ages at a time."""
        with self._reading() as db:
            return holding.holdings(db, now)

    def listing(self, now: datetime, chosen: Filter) -> list[holding.Listed]:
        """One line an object: its newest set, how many there are, how old."""
        with self._reading() as db:
            return holding.listing(db, now, chosen)

    def check(self) -> None:
        """Look through the whole file; Damaged (and set aside) where it is."""
        store.check_whole(self.path, self._own)

    # --- sources ---------------------------------------------------------------------

    def source(self, name: str) -> SourceState:
        """What is remembered of a source."""
        with self._reading() as db:
            row = (
                db
                and db.execute(
                    "SELECT state FROM sources WHERE name = ?", (name,)
                ).fetchone()
            )
        return _state(name, json.loads(row[0])) if row else SourceState(name=name)

    def remember(self, state: SourceState) -> None:
        """Keep what a source said."""
        with store.writing(self.path, self._own) as db:
            remember(db, state)

    def add_fetched(
        self, catalogue: Catalogue, state: SourceState, arrived: datetime
    ) -> Added:
        """Keep what a source sent and what it said, both or neither."""
        store.check_whole(self.path, self._own)
        with store.writing(self.path, self._own) as db:
            added = add_batch(db, catalogue, to_us(arrived), state.url, "")
            remember(db, state)
            return added

    @contextmanager
    def _reading(self) -> Iterator[Connection | None]:
        with store.reading(self.path, self._own) as db:
            yield db


def remember(db: Connection, state: SourceState) -> None:
    """Write a source's state."""
    times = {
        key: value and to_us(value)
        for key in ("asked", "answered", "wait_until")
        for value in [getattr(state, key)]
    }
    told = json.dumps({"url": state.url, "validators": dict(state.validators), **times})
    db.execute("INSERT OR REPLACE INTO sources VALUES (?, ?)", (state.name, told))


def _state(name: str, told: dict[str, object]) -> SourceState:
    times = {
        key: from_us(int(str(told[key]))) if told.get(key) else None
        for key in ("asked", "answered", "wait_until")
    }
    validators = told.get("validators")
    return SourceState(
        name=name,
        url=str(told.get("url", "")),
        validators=validators if isinstance(validators, dict) else {},
        **times,
    )
