"""Who made a streak, held against real objects whose elements are a day apart.

Reference: places by skyfield with the element sets of the image's own night, pixels by
astropy; the sets asked are those of the day before.  What is left are craft that moved
in between, sets of a fresh launch taken for one another, and craft docked together.
"""

from collections import Counter
from pathlib import Path

import pytest

pytest.importorskip("astropy")
pytest.importorskip("passes_plugins.streaks")
from made_streaks import asked, made, services

STREAKS = 40


def test_who_made_it_is_ranked_first(real_data: Path) -> None:
    host = services(real_data, 13, 14)
    counts: Counter[str] = Counter()
    for one in made(real_data, 14, STREAKS, seed=14):
        rank, found = asked(one, host)
        counts["first"] += rank == 1
        whole = sum(each.chance for each in found.candidates) + found.none_chance
        assert whole == pytest.approx(1.0)
        if found.named is not None:
            right = found.named.crossing.catalog_number == one.number
            counts["right" if right else "wrong"] += 1
    assert counts["first"] >= 0.9 * STREAKS
    assert counts["right"] >= 0.85 * STREAKS
    assert counts["wrong"] <= 0.05 * STREAKS


def test_a_set_of_the_night_itself_fits_to_the_noise(real_data: Path) -> None:
    """The same elements on both sides: no sign, flip, origin or scale is wrong.

    Ends are off by 1.5 px (3″) each, clocks by 0.3 s.
    """
    host = services(real_data, 14, 14)
    offsets, lates = [], []
    for one in made(real_data, 14, 12, seed=3):
        rank, found = asked(one, host)
        if rank:
            fit = found.candidates[rank - 1]
            offsets.append(abs(fit.offset_deg) * 3600.0)
            low, high = fit.timing.span_s
            lates.append(max(low, -high, 0.0))
        assert rank <= 2  # docked craft have the same path
    assert len(offsets) == 12
    assert max(offsets) < 10.0
    assert max(lates) < 1.5
