"""A file replaced whole or not at all."""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
from collections.abc import Callable
from pathlib import Path


def replace_file(
    target: Path, content: bytes, still: Callable[[], bool] | None = None
) -> bool:
    """Put ``content`` under the name ``target`` in one step, and make it last.

    It is written beside the file first; on any failure the old content stays and
    nothing else is left.  The permissions of an existing file are kept.  ``still`` is
    asked just before: where it says no, nothing is replaced and False given back.
    ``target`` must not be a symbolic link.  Raises OSError.
    """
    part = target.parent / f".passes-{secrets.token_hex(8)}.part"
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    descriptor = os.open(part, flags, 0o666)
    try:
        with os.fdopen(descriptor, "wb") as file:
            _keep_permissions(target, part)
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if still is not None and not still():
            part.unlink()
            return False
        os.replace(part, target)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    _sync_folder(target.parent)
    return True


def _keep_permissions(target: Path, part: Path) -> None:
    try:
        old = target.stat()
    except OSError:
        return
    with contextlib.suppress(OSError, AttributeError):
        os.chown(part, old.st_uid, old.st_gid)
    part.chmod(stat.S_IMODE(old.st_mode))


def _sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
