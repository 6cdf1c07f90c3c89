"""``passes track``: one pass, second by second."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from passes.options import Chart, Finite, Output, asks, chosen_passage, draws, writes

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Passage, Track

#: Decimals of the columns: 0.0001° is 0.4″, a tenth of what the eye of a mount needs.
_DECIMALS = {"_km": 4, "_s": 4, "_deg": 5, "_s2": 8, "magnitude": 2, "fraction": 4}
_RATE_DECIMALS = 7


@click.command("track")
@click.option(
    "--step",
    "step_s",
    type=Finite(0.05, 600.0, " s"),
    default=10.0,
    show_default=True,
    metavar="SECONDS",
    help="Time between rows, from 0.05.",
)
@writes("track")
@draws("pass")
@asks(search=True, one_pass=True)
@click.pass_obj
def command(services: Services, /, output: Output, chart: Chart, step_s: float) -> None:
    """One pass second by second: pointing, rates and light.

    --pass takes a pass by the id that other commands print; with --object the pass
    of the night that is longest in view is taken.

    \b
    Examples:
      passes track --demo --object 80001 --step 1
      passes track --pass 80001-20290317T1900 --demo --json
      passes track --site ridge --object 80001 --step 0.1 --output pass.csv
      passes track --demo --object 80001 --chart pass.png
    """
    passage = chosen_passage(services)
    track = services.track(passage, step_s)
    output.write(
        table=lambda screen: _page(services, passage, track, screen),
        document=lambda: document(services, passage, track),
        records=lambda: _flat(passage, track, services.demo),
        items=lambda: [track],
        site=services.site,
        window=services.window,
        demo=services.demo,
    )
    _draw(services, chart, passage)


def _draw(services: Services, chart: Chart, passage: Passage) -> None:
    if chart.path is None:
        return
    from passes.charts.clockface import zone_of
    from passes.charts.evening import sampled
    from passes.charts.passline import Course, pass_chart

    course = Course(
        site=services.site,
        track=sampled(services, passage),
        zone=zone_of(services.site.zone),
        visible=passage.visible,
        demo=services.demo,
    )
    chart.write(
        {"pass": lambda palette: pass_chart(palette, course)},
        described=f"{passage.name}, {passage.id}",
    )


def _page(services: Services, passage: Passage, track: Track, screen: Any) -> str:
    from passes.tables import track_page

    return track_page(passage, track, services.site, screen, demo=services.demo)


def document(services: Services, passage: Passage, track: Track) -> dict[str, Any]:
    """The JSON shape: what is known of the whole, then a row a sample."""
    from passes.forecast.tonight import iso, site_document

    span = {"start": iso(passage.start), "end": iso(passage.end)}
    return {
        "site": site_document(services.site),
        "window": span,
        "demo": services.demo,
        "pass": {
            "id": passage.id,
            "catalog_number": passage.catalog_number,
            "name": passage.name,
            "designator": passage.designator,
            "object_class": passage.object_class,
        },
        **_trust(track),
        "track": list(_rows(track)),
    }


def _trust(track: Track) -> dict[str, Any]:
    names = ("timing_sigma_s", "timing_bound_s", "cross_track_sigma_km")
    known = {name: _known(getattr(track, name)) for name in names}
    return {
        **known,
        "element_age_days": _known(track.element_age_days),
        "magnitude_basis": track.magnitude_basis,
        "flags": list(track.flags),
    }


def _known(value: float) -> float | None:
    return round(value, 4) if value == value else None


def _rows(track: Track) -> Iterator[dict[str, Any]]:
    """A row a sample, rounded to what its unit deserves; null is unknown."""
    import numpy as np

    from passes.forecast.documents import iso_times
    from passes.model import TRACK_ARRAYS

    names = ["time", *(name for name in TRACK_ARRAYS if name != "time_s")]
    columns: list[Any] = [iso_times(track.start, track.time_s)]
    for name in names[1:]:
        values = getattr(track, name)
        rounded = np.round(values, _decimals(name)).tolist()
        columns.append([v if v == v and abs(v) < 1e300 else None for v in rounded])
    for row in zip(*columns, strict=True):
        yield dict(zip(names, row, strict=True))


def _decimals(name: str) -> int:
    if "_rate_" in name:
        return _RATE_DECIMALS
    for ending, decimals in _DECIMALS.items():
        if name.endswith(ending):
            return decimals
    return 2


def _flat(passage: Passage, track: Track, demo: bool) -> Iterator[dict[str, Any]]:
    trust = _trust(track)
    flags = " ".join(trust.pop("flags"))
    for row in _rows(track):
        yield {"id": passage.id, **row, **trust, "flags": flags, "demo": demo}
