"""The file itself: opened, checked, and never harmed."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from passes.errors import ArchiveError

#: How long one program waits for another to finish writing, seconds.
BUSY_S = 30.0
#: "pass" in ASCII: tells our files from other SQLite files.
APPLICATION_ID = 0x70617373
VERSION = 1
_MAGIC = b"SQLite format 3\0"
_APPLICATION_ID_AT = 68
#: Stands within the first page of every archive, so that a damaged one is known.
_MARK = "passes archive of element sets"
_HEAD_BYTES = 65536
_SCHEMA = f"""
CREATE TABLE objects ( -- {_MARK}
    catalog_number INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    designator TEXT NOT NULL,     -- both as the newest set has them
    oldest_us INTEGER NOT NULL,   -- epochs of its first and its last set
    newest_us INTEGER NOT NULL
);
CREATE TABLE batches (
    batch INTEGER PRIMARY KEY,
    origin TEXT NOT NULL,
    arrived_us INTEGER NOT NULL   -- microseconds since 1970, UTC
);
CREATE TABLE sets (
    catalog_number INTEGER NOT NULL,
    epoch_us INTEGER NOT NULL,    -- microseconds since 1970, UTC
    packed BLOB NOT NULL,         -- see passes.archive.rows
    batch INTEGER NOT NULL REFERENCES batches (batch),
    PRIMARY KEY (catalog_number, epoch_us)
) WITHOUT ROWID;
CREATE TABLE sources (
    name TEXT PRIMARY KEY,
    state TEXT NOT NULL           -- JSON
);
"""
#: Words of SQLite for a file whose content makes no sense.
_DAMAGE = ("malformed", "not a database", "corrupt")
_DAMAGE_CODES = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_COMPANIONS = ("-wal", "-shm", "-journal")


class Damaged(ArchiveError):
    """The archive was damaged and has been set aside; ``aside`` is where."""

    def __init__(self, path: Path, aside: Path) -> None:
        super().__init__(
            f"the archive {path} is damaged; it was set aside as {aside.name}\n"
            "add your element files again: passes elements add FILE"
        )
        self.aside = aside


@contextlib.contextmanager
def writing(path: Path, own: bool) -> Iterator[sqlite3.Connection]:
    """A connection inside one transaction: all of it is kept, or nothing.

    Makes the file (and, if it is the usual one, its folder) where it is absent.  Raises
    ArchiveError: another program writes, disk full, write-protected, a file of another
    kind, a newer version; Damaged where it had to be set aside.
    """
    if own:
        with _told(path, own):
            path.parent.mkdir(parents=True, exist_ok=True)
    with _told(path, own), contextlib.closing(_opened(path)) as db:
        _prepare(db, path)
        db.execute("BEGIN IMMEDIATE")
        try:
            yield db
            db.execute("COMMIT")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                db.execute("ROLLBACK")
            raise


@contextlib.contextmanager
def reading(path: Path, own: bool) -> Iterator[sqlite3.Connection | None]:
    """A connection that cannot write, None where there is no archive yet.

    Works on a write-protected disk too.  Raises ArchiveError as :func:`writing` does.
    """
    with _told(path, own):
        if not path.exists() or not path.stat().st_size:
            yield None
            return
        with contextlib.closing(_opened_to_read(path)) as db:
            if _check_kind(db, path):
                yield db
            else:
                yield None


def check_whole(path: Path, own: bool) -> None:
    """Look through the whole file; Damaged (and set aside) where it is."""
    with reading(path, own) as db:
        if db is not None:
            found = str(db.execute("PRAGMA quick_check(1)").fetchone()[0])
            if found != "ok":
                raise sqlite3.DatabaseError(f"malformed: {found}")


# --- opening -------------------------------------------------------------------


def _opened(path: Path) -> sqlite3.Connection:
    _check_head(path)
    db = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
    try:
        _retry_locked(lambda: db.execute("PRAGMA journal_mode=WAL"))
        db.execute("PRAGMA synchronous=FULL")
        db.execute("PRAGMA foreign_keys=ON")
    except BaseException:
        db.close()
        raise
    return db


def _opened_to_read(path: Path) -> sqlite3.Connection:
    _check_head(path)
    address = path.absolute().as_uri() + "?mode=ro"
    try:
        return _reader(address)
    except sqlite3.OperationalError:
        # no room beside the file for what readers share: nobody can be writing then
        wal = path.with_name(path.name + "-wal")
        if os.access(path.parent, os.W_OK) or (wal.exists() and wal.stat().st_size):
            raise
        return sqlite3.connect(address + "&immutable=1", isolation_level=None, uri=True)


def _reader(address: str) -> sqlite3.Connection:
    db = sqlite3.connect(address, timeout=BUSY_S, isolation_level=None, uri=True)
    try:
        _retry_locked(lambda: db.execute("SELECT 1 FROM sqlite_master LIMIT 1"))
    except BaseException:
        db.close()
        raise
    return db


def _retry_locked(run: object) -> None:
    """SQLite does not wait by itself where two programs open a file at once."""
    end = time.monotonic() + BUSY_S
    while True:
        try:
            run()  # type: ignore[operator]
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > end:
                raise
            time.sleep(0.02)


def _prepare(db: sqlite3.Connection, path: Path) -> None:
    """Make the tables of a new file, refuse a file of another kind."""
    if _check_kind(db, path):
        return
    db.execute("BEGIN IMMEDIATE")
    try:
        if not _check_kind(db, path):  # another program may have been quicker
            for statement in _SCHEMA.split(";\n"):
                db.execute(statement)
            db.execute(f"PRAGMA application_id={APPLICATION_ID}")
            db.execute(f"PRAGMA user_version={VERSION}")
        db.execute("COMMIT")
    except BaseException:
        with contextlib.suppress(sqlite3.Error):
            db.execute("ROLLBACK")
        raise


def _check_kind(db: sqlite3.Connection, path: Path) -> bool:
    """Whether this is an archive; False for an empty one, ArchiveError for others."""
    tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    kind = db.execute("PRAGMA application_id").fetchone()[0]
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if not tables and not kind:
        return False
    if kind != APPLICATION_ID:
        raise _foreign(path, "is another program's database")
    if version > VERSION:
        raise ArchiveError(
            f"{path}: this archive was made by a newer version (layout {version}, "
            f"known up to {VERSION})\nupdate passes, or name another with --archive"
        )
    return True


def _foreign(path: Path, what: str) -> ArchiveError:
    return ArchiveError(
        f"{path}: {what}, not an archive of element sets; nothing was touched\n"
        "name another file with --archive"
    )


def _check_head(path: Path) -> None:
    """Refuse a file of another kind before SQLite touches it."""
    if path.is_dir():
        raise _foreign(path, "is a folder")
    try:
        with path.open("rb") as file:
            head = file.read(len(_MAGIC))
    except FileNotFoundError:
        return
    if head and head != _MAGIC:
        raise sqlite3.DatabaseError("file is not a database")


# --- what can go wrong ---------------------------------------------------------


@contextlib.contextmanager
def _told(path: Path, own: bool) -> Iterator[None]:
    """Turn what SQLite and the system say into one clear line."""
    try:
        yield
    except sqlite3.Error as error:
        if _is_damage(error):
            if not (own or _was_ours(path)):
                raise _foreign(path, "is a file of another kind") from error
            raise Damaged(path, _set_aside(path)) from error
        raise ArchiveError(f"{path}: {_why(error, path)}") from error
    except OSError as error:
        raise ArchiveError(
            f"{path}: the archive cannot be used: {error.strerror or error}; "
            "--archive names another"
        ) from error


def _is_damage(error: sqlite3.Error) -> bool:
    code = getattr(error, "sqlite_errorcode", None)
    if code is not None:
        return code & 0xFF in _DAMAGE_CODES
    return any(word in str(error) for word in _DAMAGE)


def _was_ours(path: Path) -> bool:
    """Whether something in a damaged file still says that it is an archive."""
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except OSError:
        return False
    mark = APPLICATION_ID.to_bytes(4, "big")
    return head[_APPLICATION_ID_AT:][:4] == mark or _MARK.encode() in head


def _set_aside(path: Path) -> Path:
    """Rename a damaged archive and what belongs to it; never over another file."""
    stamp = f"{datetime.now(UTC):%Y%m%dT%H%M%SZ}"
    for attempt in range(1000):
        again = f"-{attempt}" if attempt else ""
        aside = path.with_name(f"{path.name}.damaged-{stamp}{again}")
        if not any(_companion(aside, end).exists() for end in ("", *_COMPANIONS)):
            break
    os.rename(path, aside)
    for end in _COMPANIONS:
        with contextlib.suppress(FileNotFoundError):
            os.rename(_companion(path, end), _companion(aside, end))
    return aside


def _companion(path: Path, end: str) -> Path:
    return path.with_name(path.name + end)


def _why(error: sqlite3.Error, path: Path) -> str:
    """What happened and what to do, in words for people."""
    text = str(error)
    name = getattr(error, "sqlite_errorname", "") or ""
    if "locked" in text or name.startswith("SQLITE_BUSY"):
        return f"another program has been writing for {BUSY_S:.0f} s; try again later"
    if name.startswith("SQLITE_FULL") or "full" in text:
        return "the disk is full; what was kept before is safe, nothing was added"
    if name.startswith("SQLITE_IOERR"):
        return (
            "the disk cannot be read or written (full, or a limit reached?); "
            "what was kept before is safe, nothing was added"
        )
    closed = name.startswith("SQLITE_CANTOPEN")
    if name.startswith("SQLITE_READONLY") or (closed and path.exists()):
        return "the archive or its folder is write-protected; nothing was added"
    if closed:
        return "cannot be opened or made (its folder absent or write-protected?)"
    return f"the archive cannot be used: {text}"
