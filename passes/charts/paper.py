"""A sheet to draw on, and the file it becomes; no screen is needed."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passes.charts.theme import Palette
from passes.errors import InputError
from passes.model.text import plain as harmless

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: What a figure can be written as.
FORMATS = {".png": "png", ".svg": "svg", ".pdf": "pdf"}
_DPI = 150
_PAD_IN = 0.08


def format_of(path: Path) -> str:
    """The format that a file's suffix asks for; InputError for another suffix."""
    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        known = ", ".join(FORMATS)
        raise InputError(
            f"{path}: a chart is written as {known}, not {suffix or 'this'}"
        )
    return FORMATS[suffix]


def new_figure(palette: Palette, width: float = 7.0, height: float = 7.0) -> Figure:
    """An empty sheet, inches."""
    from matplotlib.figure import Figure

    figure = Figure(
        figsize=(width, height), facecolor=palette.paper, layout="constrained"
    )
    engine: Any = figure.get_layout_engine()
    engine.set(w_pad=_PAD_IN, h_pad=_PAD_IN)
    return figure


def prepared(axes: Axes, palette: Palette, *, grid: bool = True) -> Axes:
    """Axes in the colours of a theme."""
    axes.set_facecolor(palette.panel)
    for spine in axes.spines.values():
        spine.set_color(palette.quiet)
    axes.tick_params(colors=palette.ink, labelsize=9)
    axes.xaxis.label.set_color(palette.ink)
    axes.yaxis.label.set_color(palette.ink)
    if grid:
        axes.grid(visible=True, color=palette.quiet, linewidth=0.4, alpha=0.6)
        axes.set_axisbelow(True)
    return axes


def titled(axes: Axes, palette: Palette, text: str, *, demo: bool = False) -> None:
    """The heading of a figure; the demo says so."""
    marked = f"{text}\n(demo: invented)" if demo else text
    axes.set_title(plain(marked, 200), color=palette.ink, fontsize=11, loc="left")


def headed(figure: Figure, palette: Palette, text: str, *, demo: bool = False) -> None:
    """A heading for a figure whose axes have no frame."""
    marked = f"{text}\n(demo: invented)" if demo else text
    figure.suptitle(
        plain(marked, 200), color=palette.ink, fontsize=11, x=0.02, ha="left"
    )


def plain(text: str, longest: int = 60) -> str:
    """Text from outside, harmless in a figure: no control signs, no mathematics."""
    lines = [harmless(line, longest) for line in text.split("\n")]
    return "\n".join(lines).replace("$", r"\$")


def content(figure: Figure, form: str, described: str = "") -> bytes:
    """The figure as a file's content, the same every time it is drawn."""
    import matplotlib as mpl

    stream = io.BytesIO()
    facts: dict[str, Any] = {
        "png": {"Description": described, "Software": "passes"},
        "svg": {"Date": None, "Description": described, "Creator": "passes"},
        "pdf": {"CreationDate": None, "Subject": described, "Creator": "passes"},
    }
    import warnings

    settings: Any = {
        "svg.hashsalt": "passes",
        "svg.fonttype": "none",
        "pdf.fonttype": 42,
    }
    with mpl.rc_context(settings), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing")  # names in any script
        figure.savefig(
            stream,
            format=form,
            dpi=_DPI,
            facecolor=figure.get_facecolor(),
            metadata=facts[form],
        )
    return stream.getvalue()
