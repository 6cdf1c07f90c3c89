"""Names that have others by now: they serve on for a while, and say so.

API names and configuration keys warn by ``DeprecationWarning``, which the program turns
into a line on stderr; options of commands say it there at once
(:func:`passes.options.renamed_options`).
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable, Mapping
from typing import Any


def told(old: str, new: str) -> str:
    """What is said of a former name, in one line."""
    return f"{old} is now {new}; the former name goes with the next major version"


def warn(old: str, new: str, stacklevel: int = 2) -> None:
    """Warn whoever calls the caller (``stacklevel`` as for ``warnings.warn``)."""
    warnings.warn(told(old, new), DeprecationWarning, stacklevel=stacklevel + 1)


def former_names(module: str, names: Mapping[str, str]) -> Callable[[str], Any]:
    """A module's ``__getattr__``: what was renamed is found, with a warning.

    ``names`` has the present name of each former one.
    """

    def find(name: str) -> Any:
        if name not in names:
            raise AttributeError(f"module {module!r} has no attribute {name!r}")
        warn(f"{module}.{name}", f"{module}.{names[name]}")
        return getattr(sys.modules[module], names[name])

    return find
