"""How large objects are: the person's own table first, then the packaged one."""

from __future__ import annotations

from passes.objects import Size, read_size_file, size_in
from passes_plugins.imaging.choices import Choices


def size_for(number: int, name: str, choices: Choices) -> Size | None:
    """The size of an object; None where no table has it."""
    return size_in(read_size_file(choices.sizes), number, name)
