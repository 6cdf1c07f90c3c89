"""Changing the configuration file: comments kept, whole or not at all."""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Callable, Iterator, MutableMapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passes.config.reading import (
    Config,
    check_sections,
    default_path,
    load_text,
    parsed,
    read_bytes,
)
from passes.errors import ConfigError
from passes.replacing import replace_file

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
    Raises ConfigError where something else stands in its place.
    """
    import tomlkit

    table: Any = document
    for i, name in enumerate(names):
        if name not in table:
            within = isinstance(table, tomlkit.items.InlineTable)
            new = tomlkit.table(is_super_table=i + 1 < len(names))
            table[name] = tomlkit.inline_table() if within else new
        table = table[name]
        if not isinstance(table, MutableMapping):
            raise ConfigError(f"[{'.'.join(names[: i + 1])}]: want a table of keys")
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
        # unless another program has written meanwhile
        if replace_file(target, after, partial(_same, target, before)):
            return config
    raise ConfigError(f"{path}: other programs keep writing it; nothing was changed")


def _changed(path: Path, before: bytes, change: Change) -> bytes:
    """The file's content after the change, with its own mark and line ends."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    # the reader's own words for what is damaged
    check_sections(parsed(before, path), path)
    text = before.removeprefix(_BOM).decode("utf-8")
    windows = "\r\n" in text
    try:
        document = tomlkit.parse(text.replace("\r\n", "\n"))
        change(document)
        text = tomlkit.dumps(document)
    except TOMLKitError as error:
        reason = str(error).splitlines()[0][:200]
        raise ConfigError(
            f"{path}: {reason}; nothing was changed, edit it by hand"
        ) from error
    mark = _BOM if before.startswith(_BOM) else b""
    try:
        return mark + (text.replace("\n", "\r\n") if windows else text).encode()
    except UnicodeEncodeError as error:
        raise ConfigError(
            f"{path}: a name that is no UTF-8 text; nothing was changed"
        ) from error


def _same(target: Path, before: bytes | None) -> bool:
    return read_bytes(target) == before


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
