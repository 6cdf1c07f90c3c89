"""How large objects are: the person's own table first, then the packaged one."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from passes import objects
from passes.errors import InputError
from passes.objects import Size
from passes_plugins.imaging.choices import Choices

_MAX_BYTES = 4 * 1024 * 1024


def size_for(number: int, name: str, choices: Choices) -> Size | None:
    """The size of an object; None where no table has it."""
    own = table_of(choices.sizes)
    found = objects.size_of(number, name, own) if own else None
    return found or objects.size_of(number, name)


@lru_cache(maxsize=4)
def table_of(path: str) -> tuple[Size, ...]:
    """The rows of the person's table; InputError says why it cannot be read."""
    if not path:
        return ()
    try:
        with Path(path).expanduser().open("rb") as file:
            text = file.read(_MAX_BYTES).decode("utf-8-sig")
        return objects.read_sizes(text)
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from error
    except KeyError as error:
        raise InputError(f"{path}: the column {error} is missing") from error
    except (TypeError, ValueError) as error:
        raise InputError(f"{path}: not a table of sizes ({error})"[:300]) from error
