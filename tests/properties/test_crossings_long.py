"""A long window holds what its days hold: courses begin anew each half-day."""

from datetime import timedelta

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue

from passes.crossings import search_crossings
from passes.model import LineOfSight, Site

SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
LINES = {
    "moon": LineOfSight.of_body("moon", radius_deg=3.0),
    "sun": LineOfSight.of_body("sun", radius_deg=3.0),
    "stars": LineOfSight.of_field(300.0, 40.0, radius_deg=3.0),
}


@pytest.mark.parametrize("name", LINES)
def test_five_days_hold_what_each_of_them_holds(name):
    catalogue = made_catalogue(100, seed=9)
    line = LINES[name]
    whole = search_crossings(catalogue, SITE, line, START, START + timedelta(days=5))
    pieces = []
    for day in range(10):
        begin = START + timedelta(days=day / 2)
        part = search_crossings(
            catalogue, SITE, line, begin, begin + timedelta(days=0.5)
        )
        for row, time_s in zip(part.row, part.closest.time_s, strict=True):
            pieces.append((int(row), time_s + day * 43_200.0))
    assert len(pieces) > 40
    for row, time_s in pieces:
        near = np.abs(whole.closest.time_s[whole.row == row] - time_s)
        assert near.min(initial=np.inf) < 400.0  # a stay cut by noon or midnight
    assert abs(len(whole) - len(pieces)) <= 10
