"""Changing the configuration file: comments kept, whole or not at all."""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passes.config.reading import Config, default_path, load_text, parsed, read_bytes
from passes.errors import ConfigError

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

    Change = Callable[[TOMLDocument], None]

_BOM = b"\xef\xbb\xbf"
#: How often an edit begins anew because another program wrote in the meantime.
_TRIES = 20


def edit(path: Path | None, change: Change) -> Config:
    """Change the file at ``path`` (the person's own, if None); what it then holds.

    ``change`` alters a tomlkit document in place and may be called again, on a fresh
    one, when another program has written in the meantime.  Comments, order, line ends,
    permissions and a symbolic link stay; a file that is absent is made, with its
    folder.  The result must be one that :func:`passes.config.load` accepts: ConfigError
    otherwise, and where the file cannot be read or written; the old file then stays.
    """
    path = path or default_path()
    if path is None:
        raise ConfigError("no home folder to keep a configuration in; give --config")
    target = Path(os.path.realpath(path))
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with _alone(target.parent):
            return _edit(path, target, change)
    except OSError as error:
        raise ConfigError(
            f"cannot write {path}: {error.strerror or error}; nothing was changed"
        ) from error


def table_of(document: TOMLDocument, *names: str) -> Any:
    """The table ``[a.b.c]`` of a document, made where it is absent.

    Only the last becomes a heading of its own: ``[sites]`` alone says nothing.
    """
    import tomlkit

    table: Any = document
    for i, name in enumerate(names):
        if name not in table:
            table[name] = tomlkit.table(is_super_table=i + 1 < len(names))
        table = table[name]
    return table


def remove(document: TOMLDocument, *names: str) -> bool:
    """Take one entry out of nested tables, and its parent if that is then empty."""
    table: Any = document
    for name in names[:-1]:
        table = table.get(name, {})
    if names[-1] not in table:
        return False
    del table[names[-1]]
    if len(names) == 2 and not table:
        del document[names[0]]
    return True


def _edit(path: Path, target: Path, change: Change) -> Config:
    for _ in range(_TRIES):
        before = read_bytes(path)
        _check_writable(target)
        after = _changed(path, before or b"", change)
        config = load_text(after, path)
        if after == before:
            return config
        if _replaced(target, before, after):
            return config
    raise ConfigError(f"{path}: other programs keep writing it; nothing was changed")


def _changed(path: Path, before: bytes, change: Change) -> bytes:
    """The file's content after the change, with its own mark and line ends."""
    import tomlkit

    parsed(before, path)  # the reader's own words for what is damaged
    text = before.removeprefix(_BOM).decode("utf-8")
    windows = "\r\n" in text
    document = tomlkit.parse(text.replace("\r\n", "\n"))
    change(document)
    text = tomlkit.dumps(document)
    mark = _BOM if before.startswith(_BOM) else b""
    return mark + (text.replace("\n", "\r\n") if windows else text).encode("utf-8")


def _check_writable(target: Path) -> None:
    """A write-protected file could be replaced, but was meant to stay."""
    try:
        mode = target.stat().st_mode
    except FileNotFoundError:
        return
    if not stat.S_ISREG(mode):
        raise OSError(0, "is not a file")
    if not mode & 0o222 or not os.access(target, os.W_OK):
        raise PermissionError(0, "the file is write-protected")


def _replaced(target: Path, before: bytes | None, after: bytes) -> bool:
    """Put the new content in place, unless the old one is no longer what was read."""
    part = target.with_name(f".passes-{secrets.token_hex(8)}.part")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    descriptor = os.open(part, flags, 0o666)
    try:
        with os.fdopen(descriptor, "wb") as file:
            _keep_permissions(target, part)
            file.write(after)
            file.flush()
            os.fsync(file.fileno())
        if read_bytes(target) != before:
            part.unlink()
            return False
        os.replace(part, target)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    return True


def _keep_permissions(target: Path, part: Path) -> None:
    try:
        old = target.stat()
    except OSError:
        return
    with contextlib.suppress(OSError, AttributeError):
        os.chown(part, old.st_uid, old.st_gid)
    part.chmod(stat.S_IMODE(old.st_mode))


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep other edits by this program waiting, where the system can lock a folder."""
    try:
        import fcntl
    except ImportError:  # what was read is compared before it is replaced
        yield
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some network disks have no locks
            fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
