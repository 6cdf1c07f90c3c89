"""The pictures of the page, drawn in its theme and set into it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from passes.model import Picture
from passes_plugins.sheet import wording

if TYPE_CHECKING:
    from markupsafe import Markup

    from passes.charts.theme import Palette
    from passes_plugins.sheet.records import Card, Sheet

#: More paths than this on one disc cannot be told apart on a phone.
_MOST_PATHS = 12
#: Pictures take no more than this of the page, bytes: all of it stays under 2 MB.
MOST_BYTES = 1_500_000
#: Words of a picture that is left out.
_LEFT_OUT = (
    "{} more pictures are left out, to keep the page small; passes advise, streaks and "
    "transits draw them with --chart."
)


class Album:
    """Pictures as markup in the order of their worth, as many as have room."""

    def __init__(self, palette: Palette, most_bytes: int = MOST_BYTES) -> None:
        self.palette, self.left_out = palette, 0
        self._room, self._count = most_bytes, 0

    def add(self, picture: Picture) -> Markup | None:
        """One picture; None where it cannot be drawn or the page would be too big."""
        from markupsafe import Markup

        from passes.charts.inline import inline_svg

        if self._room <= 0:
            self.left_out += 1
            return None
        figure = picture.draw(self.palette)
        if figure is None:
            return None
        self._count += 1
        text = inline_svg(figure, f"p{self._count}", picture.described)
        size = len(text.encode())
        if size > self._room:
            self.left_out += 1
            return None
        self._room -= size
        # Our own markup, made by matplotlib, which escapes the text in it.
        return Markup(text)

    def all(self, pictures: Iterable[Picture]) -> list[Markup]:
        """Those of several that can be had."""
        found = (self.add(one) for one in pictures)
        return [one for one in found if one is not None]

    @property
    def remark(self) -> str:
        """What is said of pictures that are missing."""
        return _LEFT_OUT.format(self.left_out) if self.left_out else ""


def pictures(sheet: Sheet, theme: str) -> dict[str, Any]:
    """All pictures by where they stand; the sky and the best passes come first."""
    from passes.charts.theme import palette

    album = Album(palette(theme))
    sky, night = album.add(_sky(sheet)), album.add(_night(sheet))
    of_cards = [album.all(_of_card(sheet, one)) for one in sheet.cards]
    transits = {
        event.id: album.all(p for p in sheet.transit_pictures if p.about == event.id)
        for event in sheet.transits
    }
    return {
        "sky": sky,
        "night": night,
        "cards": of_cards,
        "transits": transits,
        "reports": {id(r): album.all(r.pictures) for r in sheet.reports},
        "remark": album.remark,
    }


def _scene(sheet: Sheet) -> Any:
    from passes.charts.evening import Scene

    return Scene(
        site=sheet.site, night=sheet.night, window=sheet.window, demo=sheet.demo
    )


def _sky(sheet: Sheet) -> Picture:
    """The sky with the passes of the page."""
    from passes.charts.evening import sky_chart

    shown = sheet.best(_MOST_PATHS)
    tracks = [sheet.tracks[i] for i in shown]
    local = wording.zone(sheet)
    rows = [wording.row(sheet.passages[i], local) for i in shown]
    told = "; ".join(
        f"{n}: {row['name']} {row['seen']}, {row['where']}, mag {row['magnitude']}"
        for n, row in enumerate(rows, 1)
    )
    left_out = len(sheet.tracks) - len(tracks)
    return Picture(
        name="sky",
        described=f"The sky as a disc. {told}",
        draw=lambda colours: sky_chart(
            colours, _scene(sheet), tracks, left_out=left_out
        ),
    )


def _night(sheet: Sheet) -> Picture:
    """The course of the night."""
    from passes.charts.evening import MOST_BARS, timeline_chart

    shown = [sheet.passages[i] for i in sheet.best(MOST_BARS)]
    words = "; ".join(f"{k}: {v}" for k, v in wording.lights(sheet))
    left_out = len(sheet.passages) - len(shown)
    words += f"; {len(shown)} passes in order of time"
    words += f"; {len(sheet.subs)} subs" if sheet.subs else ""
    return Picture(
        name="night",
        described=f"The night from left to right. {words}.",
        draw=lambda colours: timeline_chart(
            colours, _scene(sheet), shown, subs=sheet.subs, left_out=left_out
        ),
    )


def _of_card(sheet: Sheet, card: Card) -> list[Picture]:
    """What advisers draw of a pass with the rigs named; else the pass alone."""
    names = [rig.name for rig in sheet.rigs]
    found = [p for a in card.advice if a.rig in names for p in a.pictures]
    return found or [_pass(sheet, card)]


def _pass(sheet: Sheet, card: Card) -> Picture:
    from passes.charts.passline import Course, pass_chart

    course = Course(
        site=sheet.site,
        track=card.track,
        zone=wording.zone(sheet),
        visible=card.passage.visible,
        demo=sheet.demo,
    )
    words = wording.card(card, wording.zone(sheet))
    return Picture(
        name="pass",
        described=f"{words['name']} against time: altitude, speed, magnitude. "
        f"{words['way']}.",
        draw=lambda colours: pass_chart(colours, course),
    )
