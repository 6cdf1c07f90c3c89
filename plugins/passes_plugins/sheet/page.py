"""The page: what was gathered, put into words and set by the template."""

from __future__ import annotations

from datetime import tzinfo
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from passes.tables import plain
from passes_plugins.sheet import course, wording

if TYPE_CHECKING:
    from jinja2 import Template

    from passes.contributions import Services
    from passes_plugins.sheet.gathering import Sheet

#: Longer text from outside is cut.
_LONGEST = 600


def page(sheet: Sheet, theme: str, services: Services) -> str:
    """The whole page as HTML; everything from outside is escaped.

    What goes wrong while pictures are drawn is among the services' problems then.
    """
    from markupsafe import Markup

    from passes_plugins.sheet.pictures import pictures

    zone = wording.zone(sheet)
    drawn = pictures(sheet, theme)
    reports = _reports(sheet, zone, drawn["reports"])
    order = course.order(sheet, zone)
    return _template("page.html").render(
        sheet=sheet,
        theme=theme,
        style=Markup(_data("style.css")),
        pictures=drawn,
        heading=wording.heading(sheet),
        facts=wording.facts(sheet, zone),
        cards=[
            {**wording.card(one, zone), "pictures": found}
            for one, found in zip(sheet.cards, drawn["cards"], strict=True)
        ],
        rows=[wording.row(one, zone) for one in sheet.passages],
        cut=wording.cut(sheet),
        contents=wording.contents(sheet, reports, order),
        reports=reports,
        transits=[
            {**wording.transit(e, zone), "pictures": drawn["transits"][e.id]}
            for e in sheet.transits
        ],
        transit_notes=wording.remarks(sheet.transit_notes),
        order=order,
        order_title=wording.order_title(sheet),
        order_notes=course.order_notes(sheet),
        checklist=course.checklist(sheet),
        cautions=course.cautions(sheet),
        problems=tuple(dict.fromkeys((*sheet.problems, *services.problems))),
        times=wording.times(sheet, zone),
    )


def _reports(
    sheet: Sheet, zone: tzinfo, drawn: dict[int, list[Any]]
) -> list[dict[str, Any]]:
    """The reports that say something, as sections of the page."""
    told = [one for one in sheet.reports if wording.worth_a_section(one)]
    return [
        {
            **wording.report(one, zone),
            "id": f"report-{n}",
            "pictures": drawn[id(one)],
        }
        for n, one in enumerate(told, 1)
    ]


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
