"""Passes worked in skyfield's documentation and in its tests.

Sources: skyfield documentation, "Earth Satellites" (site, element set, printed times);
skyfield's tests/test_satellite_events.py (numbers of events).  What is printed to the
second comes from a search that is good to about 0.2 s; beside it stands the root or
maximum of the same altitude, worked to a millisecond with skyfield itself.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from one_satellite import catalogue_of_lines

from passes.finder import PassTable, search_passes
from passes.model import Flags, Site

#: Times given to the millisecond; the docs' own to the second.
ROOT_S, PRINTED_S = 0.01, 1.0

STATION = (
    "1 25544U 98067A   14020.93268519  .00009878  00000-0  18200-3 0  5082",
    "2 25544  51.6498 109.4756 0003572  55.9686 274.8005 15.49815350868473",
)
BLUFFTON = Site(latitude_deg=40.8939, longitude_deg=-83.8917)
BOSTON = Site(latitude_deg=42.3581, longitude_deg=-71.0636)
DAY = datetime(2014, 1, 23, tzinfo=UTC)

#: Printed to the second, the root, what.
STATION_AT_30 = [
    ("06:25:37", "06:25:36.531", "rise"),
    ("06:26:58", "06:26:57.693", "culmination"),
    ("06:28:19", "06:28:19.088", "set"),
    ("12:54:56", "12:54:55.714", "rise"),
    ("12:56:27", "12:56:26.808", "culmination"),
    ("12:57:58", "12:57:57.693", "set"),
]
#: The day's seven passes above the horizon: culmination and altitude.
STATION_AT_0 = [
    ("04:50:55", 5.06),
    ("06:26:58", 54.36),
    ("08:03:54", 24.41),
    ("09:41:33", 13.16),
    ("11:19:18", 19.16),
    ("12:56:27", 85.75),
    ("14:32:43", 10.54),
]


def clock_s(text: str) -> float:
    hours, minutes, seconds = text.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(seconds)


def event_count(table: PassTable) -> int:
    """Rises, culminations and sets inside the window."""
    points = (table.rise, table.culmination, table.set, table.further)
    return sum(int(np.isfinite(point.time_s).sum()) for point in points)


def search(lines, site, start, end, limit_deg) -> PassTable:
    catalogue = catalogue_of_lines(*lines)
    return search_passes(catalogue, site, start, end, min_altitude_deg=limit_deg)


@pytest.mark.parametrize("i", [0, 1])
def test_documented_passes_at_thirty_degrees(i):
    table = search(STATION, BLUFFTON, DAY, DAY + timedelta(days=1), 30.0)
    assert len(table) == 2
    for printed, root, what in STATION_AT_30[3 * i : 3 * i + 3]:
        ours = getattr(table, what).time_s[i]
        assert ours == pytest.approx(clock_s(root), abs=ROOT_S)
        assert ours == pytest.approx(clock_s(printed), abs=PRINTED_S)
    # Worked with skyfield at the maximum.
    height = (54.3570, 85.7461)[i]
    assert table.culmination.altitude_deg[i] == pytest.approx(height, abs=1e-4)
    assert not table.flags.any()


def test_passes_of_the_day_above_the_horizon():
    table = search(STATION, BLUFFTON, DAY, DAY + timedelta(days=1), 0.0)
    assert len(table) == len(STATION_AT_0)
    times = [clock_s(text) for text, _ in STATION_AT_0]
    np.testing.assert_allclose(table.culmination.time_s, times, atol=0.7)
    heights = [height for _, height in STATION_AT_0]
    np.testing.assert_allclose(table.culmination.altitude_deg, heights, atol=0.006)


#: Name, lines, site, start, days, limit, events that skyfield's test expects.
TAI = timedelta(seconds=-35)  # a day of atomic time begins so much before UTC's
TAI_2020 = timedelta(seconds=-37)
COUNTED = [
    (
        "low orbit",
        "1 37820U 11053A   14314.79851609  .00064249  00000-0  44961-3 0  5637",
        "2 37820  42.7687 147.7173 0010686 283.6368 148.1694 15.73279710179072",
        datetime(2014, 11, 10, tzinfo=UTC) + TAI,
        1,
        12,
    ),
    (
        "three-day ellipse",
        "1 27540U 02048A   20007.25125384  .00001047  00000-0  00000+0 0  9992",
        "2 27540  51.8988 127.5680 8897013 285.8757   2.8911  0.37604578 17780",
        datetime(2020, 1, 1, tzinfo=UTC) + TAI_2020,
        14,
        36,
    ),
    (
        "geostationary, always up",
        "1 28868U 05036A   20011.46493281 -.00000066  00000-0  00000+0 0  9999",
        "2 28868   0.0175  50.4632 0002403 284.1276 195.8977  1.00270824 52609",
        datetime(2020, 1, 1, tzinfo=UTC) + TAI_2020,
        14,
        14,
    ),
    (
        "geostationary, never up",
        "1 35812U 09046A   20008.38785173 -.00000341 +00000-0 +00000-0 0  9999",
        "2 35812 000.0518 095.9882 0002721 218.8296 045.1595 01.00269700038098",
        datetime(2020, 1, 1, tzinfo=UTC) + TAI_2020,
        14,
        0,
    ),
    (
        "transfer orbit",
        "1 44802U 19080C   20010.68544515  .00001373  00000-0  27860-3 0  9997",
        "2 44802   5.1041 192.7327 7266711 217.6622  57.0965  2.30416801  1028",
        datetime(2020, 1, 1, tzinfo=UTC) + TAI_2020,
        14,
        37,
    ),
    (
        "low inclination, never up",
        "1 28485U 04047A   20010.76403232 +.00000826 +00000-0 +25992-4 0  9999",
        "2 28485 020.5579 055.7027 0010957 208.9479 151.0347 15.04516653829549",
        datetime(2020, 1, 1, tzinfo=UTC) + TAI_2020,
        14,
        0,
    ),
    (
        "low polar orbit",
        "1 43477U 18047B   20011.66650462 +.00000719  00000-0 +29559-4 0    08",
        "2 43477  88.9974 159.0391 0019438 141.4770 316.8932 15.23958285 91199",
        datetime(2020, 1, 1, tzinfo=UTC) + TAI_2020,
        14,
        90,
    ),
]


@pytest.mark.parametrize(
    ("first", "second", "start", "days", "events"),
    [case[1:] for case in COUNTED],
    ids=[case[0] for case in COUNTED],
)
def test_number_of_events_over_boston(first, second, start, days, events):
    table = search((first, second), BOSTON, start, start + timedelta(days=days), 20.0)
    assert event_count(table) == events


def test_a_rise_close_to_the_culmination():
    # skyfield's public tracker, number 559; Julian dates 2459277.4 to 2459277.6 TT
    start = datetime(2021, 3, 3, 21, 36, tzinfo=UTC) - timedelta(seconds=69.184)
    lines = (
        "1 00172U 19029BR  21063.59692852  .00001103  00000-0  33518-4 0  9998",
        "2 00172  53.0000  36.7036 0003481 299.7327  99.3331 15.05527065  1779",
    )
    site = Site(latitude_deg=53.10373, longitude_deg=8.85132)
    table = search(lines, site, start, start + timedelta(days=0.2), 25.0)
    assert event_count(table) == 6


def test_a_set_whose_culmination_lies_before_the_window():
    # skyfield's public tracker, number 996
    lines = (
        "1 39191U 13031D   21365.68950013 -.00000013  00000-0  00000-0 0  9995",
        "2 39191 000.0397 004.0913 0002586 278.0623 077.8173 05.00115674155430",
    )
    site = Site(latitude_deg=-24.626331, longitude_deg=-70.403964, height_m=2369.34)
    start = datetime(2022, 1, 2, 3, 15, tzinfo=UTC)
    table = search(lines, site, start, start + timedelta(minutes=30), 30.0)
    assert event_count(table) == 1
    assert np.isfinite(table.set.time_s).tolist() == [True]
    assert table.flags.tolist() == [Flags.UP_AT_START | Flags.CULMINATES_OUTSIDE]


def test_a_rise_whose_culmination_lies_after_the_window():
    # the same, a comment below it
    lines = (
        "1 41105U 15074A   24238.84268576 -.00000128  00000+0  00000+0 0  9993",
        "2 41105   5.0153  78.6193 0002491 153.4123  31.4253  1.00270890 31881",
    )
    site = Site(latitude_deg=55.671429, longitude_deg=37.62539, height_m=180.0)
    start = datetime(2024, 8, 26, 8, 38, tzinfo=UTC)
    table = search(lines, site, start, start + timedelta(hours=5), 14.0)
    assert event_count(table) == 1
    assert np.isfinite(table.rise.time_s).tolist() == [True]
    assert table.flags.tolist() == [Flags.UP_AT_END | Flags.CULMINATES_OUTSIDE]


def test_a_pass_just_after_the_start():
    lines = (
        "1 38707U 12039A   24247.82317651  .00138984  00000-0  16635-2 0  9998",
        "2 38707  97.4945 189.8924 0007050 108.0286 252.1739 15.60479551673427",
    )
    site = Site(latitude_deg=48.6622, longitude_deg=34.8862)
    start = datetime(2024, 9, 5, tzinfo=UTC)
    table = search(lines, site, start, start + timedelta(days=1), 70.0)
    times = [table.rise.time_s, table.culmination.time_s, table.set.time_s]
    # printed to the second: 00:00:32, 00:00:50, 00:01:08
    np.testing.assert_allclose(np.ravel(times), [32.0, 50.0, 68.0], atol=PRINTED_S)
