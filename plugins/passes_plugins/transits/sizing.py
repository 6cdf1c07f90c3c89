"""How large objects are: the person's own table first, then the packaged one."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from passes import objects
from passes.errors import InputError
from passes.objects import Size

_MAX_BYTES = 4 * 1024 * 1024


class Sizes:
    """Sizes of objects, by the setting ``sizes``; InputError where it has no table."""

    def __init__(self, settings: Mapping[str, Any]) -> None:
        unknown = sorted(set(settings) - {"sizes"})
        if unknown:
            raise InputError(
                f"[plugins.transits] has no {unknown[0]!r} (there is: sizes)"
            )
        self._own = _table(str(settings.get("sizes", "")))

    def of(self, number: int, name: str) -> Size | None:
        """The size of one object; None where no table has it."""
        found = objects.size_of(number, name, self._own) if self._own else None
        return found or objects.size_of(number, name)

    def larger_than(self, number: int, name: str, metres: float) -> bool:
        """Whether one object is known to be longer."""
        found = self.of(number, name)
        return found is not None and found.length_m > metres


def _table(path: str) -> tuple[Size, ...]:
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
