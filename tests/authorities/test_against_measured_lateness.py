"""What a measured lateness is worth, by real successive element sets.

Elements of 2025-09-13 are carried to 17 and 20 September, where newer sets say how
late they were (the public catalogue as republished by CelesTrak, outside the
repository).  A newer set is not the truth, but near it.
"""

from datetime import UTC, datetime

import numpy as np
import pytest

from passes import vectors
from passes.elements import read
from passes.forecast.lateness import LEFT
from passes.orbits import Propagator

START = datetime(2025, 9, 13, tzinfo=UTC)
#: Low orbits: more revolutions a day than this.
LOW_REV_DAY = 11.0


def lateness(old, new):
    """Seconds by which the older sets are late at the epochs of newer ones."""
    rows = np.arange(len(new))
    epoch_s = new.epoch_s(START)[:, np.newaxis]
    newer, older = Propagator(new, START), Propagator(old, START)
    place, velocity, bad = (part[:, 0] for part in newer.many(rows, epoch_s))
    said, _, wrong = (part[:, 0] for part in older.many(rows, epoch_s))
    momentum = vectors.cross(place, velocity)
    outward = vectors.unit(place)
    forward = vectors.cross(vectors.unit(momentum), outward)
    ahead = np.arctan2(vectors.dot(said, forward), vectors.dot(said, outward))
    rate = vectors.norm(momentum) / vectors.dot(place, place)
    return np.where((bad == 0) & (wrong == 0), ahead / rate, np.nan)


def spread(values):
    """Where 68.3 % of the sizes lie."""
    return np.percentile(np.abs(values[np.isfinite(values)]), 68.3)


@pytest.fixture(scope="module")
def sets(real_data):
    """The same low objects on three days, row by row."""
    days = ("13", "17", "20")
    paths = [real_data / f"active_2025-09-{day}.tle.gz" for day in days]
    found = [read([path]).catalogue for path in paths]
    low = found[0].mean_motion_rad_min * 1440.0 / (2 * np.pi) > LOW_REV_DAY
    numbers = set(found[0].catalog_number[low].tolist())
    for one in found[1:]:
        numbers &= set(one.catalog_number.tolist())
    wanted = np.array(sorted(numbers))
    return [one.take(rows_of(one.catalog_number, wanted)) for one in found]


def rows_of(numbers, wanted):
    """Where wanted numbers stand."""
    order = np.argsort(numbers, kind="stable")
    return order[np.searchsorted(numbers[order], wanted)]


def test_a_lateness_measured_days_before_takes_much_of_the_error(sets):
    first, middle, last = sets
    earlier, later = lateness(first, middle), lateness(first, last)
    # as many days apart as the catalogues are
    apart = (last.epoch_s(START) - middle.epoch_s(START)) / 86400.0
    use = (apart > 2.0) & (apart < 4.0)
    assert use.sum() > 10_000
    left = spread((later - earlier)[use]) / spread(later[use])
    # 0.65 to 0.7 after three days; half is assumed for a night or two
    assert 0.55 < left < 0.8
    assert left - 0.25 < LEFT < left
