"""Brightness of objects as diffuse spheres, from a table of standard magnitudes.

Every object gets one row, by catalogue number, else by name, launch and height: from
the user's own table first, then from the packaged one; else the average of its class.
A row that is a published mean over phases is scaled by range alone; the others follow
a Lambert sphere.  Left out: flashes of flat panels, shine from the Earth, the turning
of a tumbling stage.  The sigma of a row is what one sighting differs from it.

Setting: ``table``, the path of a CSV file of one's own (columns in
:func:`passes.objects.read_standard_table`).  Rows for whole classes replace averages
only.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passes.contributions import Brightness, BrightnessModel
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from passes.contributions import Illumination
    from passes.objects import StandardRow, StandardTable

    Floats = NDArray[np.float64]

#: What is said of an object that no row of any table serves.
NOTHING_KNOWN = "nothing known"
_TABLE = "standard_magnitudes.csv"


def magnitude(asked: Illumination) -> Brightness:
    """V magnitudes above the atmosphere in full sunlight, and sigmas; ``(m,)``.

    nan where nothing is known of an object, or where its geometry is nan.  Faults of
    the user's table are in ``notes``.
    """
    from passes.model import Note
    from passes.objects import rows_for

    tables, problems = _tables(asked.settings)
    rows = rows_for(tables, asked.facts)
    result, sigma = _samples(rows, asked)
    return Brightness(
        magnitude=result,
        sigma=sigma,
        basis=tuple(row.basis if row else NOTHING_KNOWN for row in rows),
        class_average=tuple(row is None or row.class_average for row in rows),
        notes=tuple(Note(text=text, severity="caution") for text in problems),
    )


def _samples(
    rows: Sequence[StandardRow | None], asked: Illumination
) -> tuple[Floats, Floats]:
    """Magnitude and sigma of every sample, ``(m,)``, one convention at a time."""
    import numpy as np

    from passes.photometry import CONVENTIONS, apparent_magnitude

    of = asked.object_index
    value = np.array([row.value_mag if row else np.nan for row in rows])[of]
    sigma = np.array([row.sigma_mag if row else np.nan for row in rows])[of]
    kinds = [CONVENTIONS.index(row.convention) if row else 0 for row in rows]
    convention = np.array(kinds, dtype=np.int8)[of]
    result = np.full(of.shape, np.nan)
    for kind in np.unique(convention).tolist():
        some = slice(None) if (convention == kind).all() else convention == kind
        distance, phase = asked.range_km[some], asked.phase_angle_rad[some]
        result[some] = apparent_magnitude(
            value[some], distance, phase, CONVENTIONS[kind]
        )
    return result, sigma


def _tables(settings: Mapping[str, Any]) -> tuple[list[StandardTable], tuple[str, ...]]:
    """The tables in the order they are asked, and what is wrong with the user's."""
    from passes.objects import StandardTable, class_averages, read_standard_file

    if not settings.get("table"):
        return [packaged_table(), class_averages()], ()
    own = read_standard_file(Path(os.path.expanduser(str(settings["table"]))))
    ours = [row for row in own.rows if not row.class_average]
    classes = [row for row in own.rows if row.class_average]
    tables = [
        StandardTable(ours),
        packaged_table(),
        StandardTable(classes),
        class_averages(),
    ]
    return tables, own.problems


@lru_cache(maxsize=1)
def packaged_table() -> StandardTable:
    """The table that ships with the program."""
    from importlib.resources import files

    from passes.objects import read_standard_table

    path = files("passes_plugins").joinpath("data", _TABLE)
    return read_standard_table(path.read_text("utf-8"), _TABLE)


@hookimpl
def passes_brightness_models() -> Iterable[BrightnessModel]:
    """Offer the model."""
    yield BrightnessModel(
        name="diffuse-sphere",
        summary="Diffuse spheres from a table of standard magnitudes.",
        magnitude=magnitude,
    )
