"""The page: what was gathered, put into words and set by the template."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING, Any

from passes.tables import plain
from passes_plugins.sheet import course, wording

if TYPE_CHECKING:
    from jinja2 import Template

    from passes_plugins.sheet.gathering import Sheet

#: Longer text from outside is cut.
_LONGEST = 600


def page(sheet: Sheet, theme: str) -> str:
    """The whole page as HTML; everything from outside is escaped."""
    from markupsafe import Markup

    from passes_plugins.sheet.pictures import pictures

    zone = wording.zone(sheet)
    return _template("page.html").render(
        sheet=sheet,
        theme=theme,
        style=Markup(_data("style.css")),
        pictures=pictures(sheet, theme),
        heading=wording.heading(sheet),
        facts=wording.facts(sheet, zone),
        cards=[wording.card(one, zone) for one in sheet.cards],
        rows=[wording.row(one, zone) for one in sheet.passages],
        reports=[
            wording.report(one, zone)
            for one in sheet.reports
            if wording.worth_a_section(one)
        ],
        transits=[wording.transit(e, zone) for r in sheet.transits for e in r.events],
        transit_notes=wording.remarks(sheet.transits),
        order=course.order(sheet, zone),
        checklist=course.checklist(sheet),
        cautions=course.cautions(sheet),
        times=wording.times(sheet, zone),
    )


def _data(name: str) -> str:
    return (files("passes_plugins.sheet") / name).read_text("utf-8")


def _template(name: str) -> Template:
    from jinja2 import Environment, StrictUndefined

    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_harmless,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.from_string(_data(name))


def _harmless(value: Any) -> Any:
    """Text as one plain line; what is markup of our own stays."""
    from markupsafe import Markup

    if isinstance(value, str) and not isinstance(value, Markup):
        return plain(value, _LONGEST)
    return value
