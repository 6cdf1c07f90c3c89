"""Wherever an ephemeris begins and ends, and whatever it says, nothing jumps."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from passes.ephemeris import Flight, Segment
from passes.forecast.changeover import FADE_S, Joined
from passes.forecast.operators import TO_TEME
from passes.testing import places

START = places.night().window.start
AXIS_KM, RATE_RAD_S = 6800.0, 1.126e-3  # a round orbit, two bodies


def round_orbit(time_s, late_s=0.0, tilt=0.9, lift_km=0.0):
    """Places on a round orbit, and how they change."""
    angle = (time_s - late_s) * RATE_RAD_S
    axes = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(tilt), np.sin(tilt)]])
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    turned = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    radius = AXIS_KM + lift_km
    return radius * circle @ axes, radius * RATE_RAD_S * turned @ axes


class Round:
    """What the elements say in these tests."""

    def positions(self, start, time_s):
        """Places on the round orbit."""
        return round_orbit(time_s)[0]


def segment(begin_s, length_s, **how):
    time_s = begin_s + np.linspace(0.0, length_s, int(length_s / 50.0) + 9)
    place, velocity = round_orbit(time_s, **how)
    return Segment(
        object_name="INVENTED",
        object_id="2027-901A",
        frame="TEME",
        origin=START,
        time_s=time_s,
        position_km=place,
        velocity_km_s=velocity,
        start_s=float(time_s[0]),
        stop_s=float(time_s[-1]),
    )


differences = {
    "late_s": st.floats(-60.0, 60.0),
    "tilt": st.floats(0.89, 0.91),
    "lift_km": st.floats(-20.0, 20.0),
}


@settings(max_examples=40)
@given(
    begin_s=st.floats(1000.0, 4000.0),
    length_s=st.floats(60.0, 4000.0),
    gap_s=st.one_of(st.none(), st.floats(1.0, 2000.0)),
    how=st.fixed_dictionaries(differences),
)
def test_places_and_speeds_are_continuous(begin_s, length_s, gap_s, how):
    segments = [segment(begin_s, length_s, **how)]
    if gap_s is not None:
        segments.append(segment(begin_s + length_s + gap_s, 500.0, **how))
    source = Joined(Flight(segments, TO_TEME), Round())
    end_s = begin_s + length_s + (gap_s or 0.0) + 500.0
    time_s = np.arange(begin_s - FADE_S - 20.0, end_s + FADE_S + 20.0, 0.5)
    place = source.positions(START, time_s)
    assert np.isfinite(place).all()
    apart = round_orbit(time_s)[0] - round_orbit(time_s, **how)[0]
    most_km = np.linalg.norm(apart, axis=1).max()
    length = min(FADE_S, gap_s) if gap_s is not None else FADE_S
    steps = np.linalg.norm(np.diff(place, axis=0), axis=1) / 0.5
    # the fifth degree is at most 1.875 times as fast as a straight line; the change
    # of the difference is carried on as well
    fading = 2 * 1.875 * most_km / length + 3 * most_km * RATE_RAD_S
    assert np.abs(steps - AXIS_KM * RATE_RAD_S).max() < fading + 1e-3
    outside = (time_s < begin_s - FADE_S) | (time_s > end_s + FADE_S)
    want = round_orbit(time_s[outside])[0]
    np.testing.assert_allclose(place[outside], want, rtol=0, atol=1e-9)
