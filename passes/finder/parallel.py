"""Blocks of rows through one process or several.

Workers are forked where that is safe, because SGP4's records cannot be sent and need
not be made again; else they are started afresh and make their own.  They end when the
search ends, however it ends.
"""

from __future__ import annotations

import multiprocessing
import signal
import sys
import threading
import warnings
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from multiprocessing.connection import Connection, wait
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes.elements import Catalogue
from passes.errors import PassesError
from passes.finder.block import Part, Searcher
from passes.finder.frame import Frame
from passes.model import Site
from passes.orbits import Propagator, fast_wanted

Ints = NDArray[np.int64]
Progress = Callable[[int, int], None]
#: How many rows a part is of, and the part.
Results = Generator[tuple[int, Part], None, None]

#: Places that an object wants of SGP4 in an hour of window, all in all.
_PLACES_AN_HOUR = 2.5


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What is searched for, and where."""

    catalogue: Catalogue
    site: Site
    start: datetime
    end: datetime
    min_altitude_deg: float
    fast: bool

    @property
    def span_s(self) -> float:
        """Length of the window, seconds."""
        return (self.end - self.start).total_seconds()

    @classmethod
    def of(
        cls,
        catalogue: Catalogue,
        site: Site,
        start: datetime,
        end: datetime,
        min_altitude_deg: float,
        fast: bool | None,
    ) -> Task:
        """The task; whether heyoka works on it is settled once for every process."""
        hours = (end - start).total_seconds() / 3600.0
        expected = int(_PLACES_AN_HOUR * len(catalogue) * hours)
        quick = fast_wanted(fast, expected)
        return cls(catalogue, site, start, end, min_altitude_deg, quick)

    def searcher(self) -> Searcher:
        """What searches the blocks."""
        frame = Frame.of(self.site, self.start, self.end, self.min_altitude_deg)
        propagator = Propagator(self.catalogue, self.start, fast=self.fast)
        return Searcher(propagator, frame)

    def to_send(self) -> Task:
        """The same without what another process does not need or cannot be sent."""
        bare = replace(
            self.catalogue, growth=(), skipped=(), satrecs=[], ephemerides=None
        )
        return replace(self, catalogue=bare)


def run(
    task: Task, blocks: Sequence[Ints], processes: int, progress: Progress | None
) -> list[Part]:
    """Search every block; the parts come in any order."""
    tell = progress or (lambda done, total: None)
    total, done = len(task.catalogue), 0
    tell(0, total)
    processes = min(processes, len(blocks))
    # a worker must not start workers, nor a child that is still being set up
    alone = processes < 2 or multiprocessing.parent_process() is not None
    results = _alone(task, blocks) if alone else _shared(task, blocks, processes)
    parts = []
    with closing(results):  # whatever happens while telling, the workers end
        for size, part in results:
            done += size
            parts.append(part)
            tell(done, total)
    return parts


def _alone(task: Task, blocks: Sequence[Ints]) -> Results:
    searcher = task.searcher()
    for rows in blocks:
        yield rows.size, searcher.search(rows)


def _shared(task: Task, blocks: Sequence[Ints], processes: int) -> Results:
    """Hand blocks to workers, each the next one when it has done one.

    Rows with an ephemeris of their own stay here: it may be anything.
    """
    given = np.array(sorted(task.catalogue.ephemerides or ()), dtype=np.int64)
    waiting = [rows[~np.isin(rows, given)] for rows in blocks[::-1]]
    with _workers(task, processes) as ends:
        busy: dict[Connection, int] = {}
        for end in ends:
            _hand(end, waiting, busy)
        if given.size:
            yield given.size, task.searcher().search(given)
        while busy:
            ready = wait(list(busy))
            for end in [end for end in busy if end in ready]:
                size = busy.pop(end)
                part = _received(end)
                _hand(end, waiting, busy)
                yield size, part


def _hand(end: Connection, waiting: list[Ints], busy: dict[Connection, int]) -> None:
    if waiting:
        rows = waiting.pop()
        with _alive():
            end.send(rows)
        busy[end] = rows.size


def _received(end: Connection) -> Part:
    with _alive():
        answer = end.recv()
    if isinstance(answer, BaseException):
        raise answer
    assert isinstance(answer, Part)
    return answer


@contextmanager
def _alive() -> Iterator[None]:
    """Tell of a worker that has gone, in words."""
    try:
        yield
    except (EOFError, OSError):
        raise PassesError(
            "a search process ended before its work was done (out of memory, or a "
            "script that does not guard its main part); search with one process"
        ) from None


@contextmanager
def _workers(task: Task, processes: int) -> Iterator[list[Connection]]:
    """Workers, by our ends of their pipes; gone when the context is left."""
    forked = _may_fork()
    context: Any = multiprocessing.get_context("fork" if forked else "spawn")
    if forked:
        Frame.of(task.site, task.start, task.end, 0.0)  # tables made once for all
    else:
        task = task.to_send()
    ends: list[Connection] = []
    workers = []
    try:
        for _ in range(processes):
            ours, theirs = context.Pipe()
            ends.append(ours)
            inherited = ends if forked else []
            worker = context.Process(
                target=_work, args=(theirs, inherited, task), daemon=True
            )
            with warnings.catch_warnings():
                # newer Pythons warn of any thread at fork; those that numpy's
                # library keeps are made for it, and we have looked for others
                warnings.simplefilter("ignore", DeprecationWarning)
                worker.start()
            theirs.close()
            workers.append(worker)
        yield ends
    finally:
        for end in ends:
            end.close()
        for worker in workers:
            worker.terminate()
        for worker in workers:
            worker.join()


def _may_fork() -> bool:
    """Whether this process may be forked: on Linux, with one thread, without heyoka."""
    return (
        sys.platform == "linux"
        and threading.active_count() == 1
        and "heyoka" not in sys.modules
    )


def _work(end: Connection, inherited: list[Connection], task: Task) -> None:
    """What a worker does: search the blocks it is sent until the pipe is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what ends
    for other in inherited:
        other.close()  # or a parent that died would never be noticed
    searcher = task.searcher()
    while True:
        try:
            rows = end.recv()
        except EOFError:
            return
        try:
            answer: Any = searcher.search(rows)
        except Exception as error:  # noqa: BLE001 - told to the parent, and raised there
            answer = error
        try:
            end.send(answer)
        except OSError:  # the parent has gone
            return
