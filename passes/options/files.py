"""Writing a file whole or not at all."""

from __future__ import annotations

import os
import stat
import tempfile
from pathlib import Path

from passes.errors import PassesError
from passes.replacing import replace_file


def check_writable(path: Path) -> None:
    """Refuse now what could not be written later; touches nothing that exists.

    Raises PassesError naming the file and the reason.
    """
    try:
        target = followed(path)
        if target.is_dir():
            raise IsADirectoryError(0, "is a folder")
        if _is_special(target):
            if not os.access(target, os.W_OK):
                raise PermissionError(0, "permission denied")
            return
        if target.exists() and not os.access(target, os.W_OK):
            raise PermissionError(0, "the file is write-protected")
        with tempfile.TemporaryFile(dir=target.parent):
            pass
    except OSError as error:
        raise _refusal(path, error) from error


def write_whole(path: Path, content: bytes) -> None:
    """Replace a file's content in one step; on any failure the old one stays.

    A symbolic link keeps pointing where it did, its target is replaced (but see
    :func:`followed`); permissions of an existing file are kept.  Pipes and devices are
    written to as they are.
    Raises PassesError naming the file and the reason.
    """
    try:
        target = followed(path)
        if _is_special(target):
            with target.open("wb") as file:
                file.write(content)
            return
        replace_file(target, content)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise _refusal(path, error) from error


def followed(path: Path) -> Path:
    """Where a path leads, through symbolic links.

    OSError for links in a circle, and for a link that another user has laid into a
    folder where everyone may write (such as /tmp): it may lead to a file of ours that
    nobody meant.  Linux refuses those too (proc(5), protected_symlinks), but only to
    who opens them.
    """
    if path.is_symlink() and hasattr(os, "geteuid"):
        folder = path.parent.stat()
        shared = folder.st_mode & stat.S_ISVTX and folder.st_mode & stat.S_IWOTH
        trusted = (os.geteuid(), folder.st_uid)
        if shared and path.lstat().st_uid not in trusted:
            raise PermissionError(0, "it is another user's link in a shared folder")
    target = Path(os.path.realpath(path))
    if target.is_symlink():
        raise OSError(0, "its links lead in a circle")
    return target


def _is_special(target: Path) -> bool:
    """Whether this is a pipe, a device or a socket, which cannot be replaced."""
    return target.exists() and not (target.is_file() or target.is_dir())


def _refusal(path: Path, error: OSError) -> PassesError:
    reason = error.strerror or str(error)
    if isinstance(error, FileNotFoundError):
        reason = "its folder does not exist"
    return PassesError(f"cannot write {path}: {reason}; nothing was changed")
