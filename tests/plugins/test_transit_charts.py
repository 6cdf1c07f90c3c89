"""Charts of transits by the data handed to matplotlib."""

import numpy as np
import pytest

from passes.charts.theme import palette
from passes.model import Site
from passes_plugins.transits.chart import disc_chart
from passes_plugins.transits.chart_of_strip import eastings_km
from passes_plugins.transits.disc_geometry import dark_part, spot, ticks_s


def area(x, y):
    return abs(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


@pytest.mark.parametrize("lit", [0.0, 0.1, 0.5, 0.8, 1.0])
def test_the_lit_part_of_the_disc_is_the_illuminated_fraction(lit):
    """Of its area as of its diameter (Meeus, Astronomical Algorithms, ch. 48)."""
    dark = area(*dark_part(lit, 30.0))
    assert dark / np.pi == pytest.approx(1.0 - lit, abs=1e-3)


def test_the_bright_limb_is_not_dark():
    x, y = dark_part(0.3, 90.0)
    east = spot(90.0, 1.0)
    assert east[0] == pytest.approx(-1.0)  # east is left
    assert min(np.hypot(x - east[0], y - east[1])) > 0.5


def test_seconds_are_counted_from_the_middle():
    assert ticks_s(0.62) == [-0.2, 0.0, 0.2]
    assert ticks_s(4.0) == [-2.0, -1.0, 0.0, 1.0, 2.0]


@pytest.fixture
def transit():
    from passes.config import Config
    from passes.forecast import Request, build
    from passes.registry import Registry
    from passes_plugins.transits.finding import find
    from passes_plugins.transits.wanted import Wanted

    services = build(Request(demo=True), Registry.from_entry_points(), Config())
    found = find(services, Wanted(bodies=("moon",), reach_km=50.0))
    return found.events[0], services.site


def test_the_chord_enters_and_leaves_where_the_details_say(transit):
    event, site = transit
    figure = disc_chart(palette("light"), event, site)
    (chord,) = [x for x in figure.axes[0].get_lines() if x.get_label() == "_chord"]
    start, end = np.stack(chord.get_data(), axis=1)
    along = (end - start) / np.linalg.norm(end - start)
    for name, sign in (("entry", -1.0), ("exit", 1.0)):
        limb = spot(event.details[f"{name}_position_angle_deg"], 1.0)
        across = (limb - start) - along * ((limb - start) @ along)
        assert np.linalg.norm(across) < 0.02
        assert sign * ((limb - (start + end) / 2) @ along) > 0.0


def test_the_nearest_point_is_as_far_as_stated(transit):
    event, site = transit
    strip = event.details["strip"]
    near = strip["nearest"]
    (point,) = eastings_km(site, [(near["longitude_deg"], near["latitude_deg"])])
    assert np.linalg.norm(point) == pytest.approx(near["distance_km"], abs=0.01)
    centre = eastings_km(site, strip["centre"])
    assert np.abs(np.linalg.norm(centre - point, axis=1)).min() < 3.0


def test_north_and_east_of_the_grid():
    """A minute of latitude is about 1.85 km (the nautical mile, from memory)."""
    here = Site(latitude_deg=45.0, longitude_deg=179.99)
    north, east = eastings_km(here, [(179.99, 45.0 + 1 / 60), (-179.99, 45.0)])
    assert north == pytest.approx([0.0, 1.85], abs=0.01)
    assert east[0] == pytest.approx(1.577, abs=0.01)
    assert abs(east[1]) < 0.01
