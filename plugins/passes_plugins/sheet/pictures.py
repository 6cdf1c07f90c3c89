"""The pictures of the page, drawn in its theme and set into it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from passes_plugins.sheet import wording

if TYPE_CHECKING:
    from markupsafe import Markup

    from passes_plugins.sheet.gathering import Sheet

#: More paths than this on one small disc cannot be told apart.
_MOST_PATHS = 12


def pictures(sheet: Sheet, theme: str) -> dict[str, Markup]:
    """The sky and the course of the night, as markup by name."""
    from markupsafe import Markup

    from passes.charts import evening
    from passes.charts.inline import inline_svg
    from passes.charts.theme import palette

    colours = palette(theme)
    scene = evening.Scene(
        site=sheet.site, night=sheet.night, window=sheet.window, demo=sheet.demo
    )
    tracks = sheet.tracks[:_MOST_PATHS]
    sky = evening.sky_chart(
        colours, scene, tracks, left_out=len(sheet.tracks) - len(tracks)
    )
    course = evening.timeline_chart(colours, scene, sheet.passages, subs=sheet.subs)
    local = wording.zone(sheet)
    rows = [wording.row(passage, local) for passage in sheet.passages]
    told = "; ".join(
        f"{n}: {row['name']} {row['seen']}, {row['where']}, mag {row['magnitude']}"
        for n, row in enumerate(rows, 1)
    )
    # Our own markup, made by matplotlib, which escapes the text in it.
    return {
        "sky": Markup(inline_svg(sky, "sky", f"The sky as a disc. {told}")),
        "night": Markup(
            inline_svg(course, "night", "Twilight, Moon and passes over the night.")
        ),
    }
