"""The page: what was gathered, put into words and set by the template."""

from __future__ import annotations

from datetime import tzinfo
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from passes.tables import plain
from passes_plugins.sheet import course, telling, wording

if TYPE_CHECKING:
    from jinja2 import Template

    from passes.contributions import Services
    from passes_plugins.sheet.records import Sheet

#: Longer text from outside is cut.
_LONGEST = 600


def page(sheet: Sheet, theme: str, services: Services) -> str:
    """The whole page as HTML; everything from outside is escaped.

    What goes wrong while pictures are drawn is among the services' problems then.
    """
    from markupsafe import Markup

    from passes_plugins.sheet.pictures import pictures

    values = _values(sheet, pictures(sheet, theme))
    problems = tuple(dict.fromkeys((*sheet.problems, *services.problems)))
    return _template("page.html").render(
        sheet=sheet,
        theme=theme,
        style=Markup(_data("style.css")),
        problems=problems,
        **values,
    )


def _values(sheet: Sheet, drawn: dict[str, Any]) -> dict[str, Any]:
    """Everything on the page in words, with the pictures that go with it."""
    zone = wording.zone(sheet)
    reports = _reports(sheet, zone, drawn["reports"])
    order = course.order(sheet, zone)
    return {
        "pictures": drawn,
        "heading": wording.heading(sheet),
        "facts": wording.facts(sheet, zone),
        "contents": wording.contents(sheet, reports, order),
        "cards": _cards(sheet, zone, drawn["cards"]),
        "rows": [wording.row(one, zone) for one in sheet.passages],
        "cut": wording.cut(sheet),
        "reports": reports,
        "transits": _transits(sheet, zone, drawn["transits"]),
        "transit_notes": telling.remarks(sheet.transit_notes),
        "order": order,
        "order_title": wording.order_title(sheet),
        "order_notes": course.order_notes(sheet),
        "checklist": course.checklist(sheet),
        "cautions": course.cautions(sheet),
        "times": wording.times(sheet, zone),
    }


def _cards(sheet: Sheet, zone: tzinfo, drawn: list[list[Any]]) -> list[dict[str, Any]]:
    return [
        {**wording.card(one, zone), "pictures": found}
        for one, found in zip(sheet.cards, drawn, strict=True)
    ]


def _transits(
    sheet: Sheet, zone: tzinfo, drawn: dict[str, list[Any]]
) -> list[dict[str, Any]]:
    return [
        {**telling.transit(event, zone), "pictures": drawn[event.id]}
        for event in sheet.transits
    ]


def _reports(
    sheet: Sheet, zone: tzinfo, drawn: dict[int, list[Any]]
) -> list[dict[str, Any]]:
    """The reports that say something, as sections of the page."""
    told = [one for one in sheet.reports if telling.worth_a_section(one)]
    return [
        {
            **telling.report(one, zone),
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
