"""How large objects are: the person's own table first, then the packaged one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from passes import objects
from passes.errors import InputError
from passes.objects import Size


class Sizes:
    """Sizes of objects, by the setting ``sizes``; InputError where it has no table."""

    def __init__(self, settings: Mapping[str, Any]) -> None:
        unknown = sorted(set(settings) - {"sizes"})
        if unknown:
            raise InputError(
                f"[plugins.transits] has no {unknown[0]!r} (there is: sizes)"
            )
        self._own = objects.read_size_file(str(settings.get("sizes", "")))

    def of(self, number: int, name: str) -> Size | None:
        """The size of one object; None where no table has it."""
        return objects.size_in(self._own, number, name)

    def larger_than(self, number: int, name: str, metres: float) -> bool:
        """Whether one object is known to be longer."""
        found = self.of(number, name)
        return found is not None and found.length_m > metres
