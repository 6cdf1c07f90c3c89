"""A sheet to draw on, and the file it becomes; no screen is needed."""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passes.charts.theme import Palette
from passes.errors import InputError
from passes.model.text import plain as harmless

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure, FigureBase

#: What a figure can be written as.
FORMATS = {".png": "png", ".svg": "svg", ".pdf": "pdf"}
#: Every figure is as wide as this: what a phone shows it at makes a point 1.3 of its
#: pixels, so that :data:`SMALL` is 10 pixels high (390 pixels wide, 12 at each side).
WIDTH_IN = 4.0
#: Sizes of letters, points: the least there is, the usual one, headings.
SMALL, USUAL, LARGE = 8.0, 9.0, 10.5
#: Hatching of what a site's horizon hides. Lines: dots make a drawing ten times as big.
MASK_HATCH = "xxxxx"
#: How many small letters have room across a figure, and large ones.
_ACROSS, _ACROSS_LARGE = 56, 46
_DPI = 220
_PAD_IN = 0.07
#: A sign that would begin mathematics; one that is escaped already stays so.
_MATHS = re.compile(r"(?<!\\)\$")


def format_of(path: Path) -> str:
    """The format that a file's suffix asks for; InputError for another suffix."""
    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        known = ", ".join(FORMATS)
        raise InputError(
            f"{path}: a chart is written as {known}, not {suffix or 'this'}"
        )
    return FORMATS[suffix]


def new_figure(palette: Palette, height_in: float) -> Figure:
    """An empty sheet as wide as all are."""
    from matplotlib.figure import Figure

    figure = Figure(
        figsize=(WIDTH_IN, height_in), facecolor=palette.paper, layout="constrained"
    )
    engine: Any = figure.get_layout_engine()
    engine.set(w_pad=_PAD_IN, h_pad=_PAD_IN)
    return figure


def prepared(axes: Axes, palette: Palette, *, grid: bool = True) -> Axes:
    """Axes in the colours of a theme."""
    axes.set_facecolor(palette.panel)
    for spine in axes.spines.values():
        spine.set_color(palette.quiet)
    axes.tick_params(colors=palette.ink, labelsize=SMALL)
    axes.xaxis.label.set_color(palette.ink)
    axes.yaxis.label.set_color(palette.ink)
    if grid:
        axes.grid(visible=True, color=palette.quiet, linewidth=0.4, alpha=0.5)
        axes.set_axisbelow(True)
    return axes


def headed(
    figure: FigureBase, palette: Palette, text: str, *, demo: bool = False
) -> None:
    """The heading of a figure; the demo says so."""
    figure.suptitle(
        _heading(text, demo), color=palette.ink, fontsize=LARGE, x=0.02, ha="left"
    )


def _heading(text: str, demo: bool) -> str:
    words = wrapped(plain(text, 200), _ACROSS_LARGE)
    return f"{words}\n(demo: invented)" if demo else words


def plate(palette: Palette) -> dict[str, Any]:
    """What lies behind words so that lines do not cut them; words stay words in SVG."""
    return {"facecolor": palette.panel, "edgecolor": "none", "pad": 0.6, "alpha": 0.8}


def wrapped(text: str, width: int = _ACROSS) -> str:
    """Words on as many lines as they need; lines that stand apart stay so."""
    lines = (textwrap.wrap(line, width) for line in text.split("\n"))
    return "\n".join(piece for pieces in lines for piece in pieces)


def listed(parts: Iterable[str], width: int = _ACROSS) -> str:
    """Remarks one after another, on a new line rather than broken in the middle."""
    lines: list[str] = []
    for part in parts:
        longer = f"{lines[-1]}; {part}" if lines else part
        if lines and len(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(part)
    return wrapped("\n".join(lines), width)


def plain(text: str, longest: int = 60) -> str:
    """Text from outside, harmless in a figure: no control signs, no mathematics."""
    lines = [harmless(line, longest) for line in text.split("\n")]
    return _MATHS.sub(r"\\$", "\n".join(lines))


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
        "font.sans-serif": ["DejaVu Sans"],
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
