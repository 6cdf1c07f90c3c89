"""The sky's own rules: nights, spans, refusals; its numbers are held elsewhere."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from passes import sky
from passes.errors import InputError, OutsideEphemeris, UnknownName
from passes.model import Site, Span

latitudes = st.floats(-89.5, 89.5)
longitudes = st.floats(-180.0, 180.0)
days = st.dates(date(1990, 1, 1), date(2050, 1, 1))
ZONES = [
    "UTC",
    "Europe/Madrid",
    "America/Anchorage",
    "Asia/Shanghai",
    "Pacific/Kiritimati",
]


def inside(part: Span | None, whole: Span | None) -> bool:
    """Whether a span, if there is one, lies within another."""
    if part is None:
        return True
    return whole is not None and whole.start <= part.start and part.end <= whole.end


@settings(max_examples=40)
@given(latitudes, longitudes, days, st.sampled_from(ZONES))
def test_every_place_and_day_has_a_night_whose_stages_nest(
    latitude: float, longitude: float, day: date, zone: str
) -> None:
    site = Site(latitude_deg=latitude, longitude_deg=longitude, zone=zone)
    night = sky.night(site, day)
    assert 0.0 < night.window.duration_s < 86400.0 + 60.0
    assert inside(night.dark, night.nautical)
    assert inside(night.nautical, night.civil)
    assert inside(night.civil, night.window)
    assert all(inside(up, night.window) for up in night.moon_up)
    assert 0.0 <= night.moon_illuminated <= 1.0
    middle = night.window.start + night.window.duration_s / 2 * timedelta(seconds=1)
    below = float(sky.sun_altitude_deg(site, middle, 0.0)) < -50.0 / 60.0
    assert below or "does not set" in night.note


@settings(max_examples=25)
@given(st.floats(-60.0, 60.0), longitudes, days, st.floats(0.0, 86400.0))
def test_the_night_of_a_moment_is_in_progress_or_next(
    latitude: float, longitude: float, day: date, second: float
) -> None:
    site = Site(latitude_deg=latitude, longitude_deg=longitude)
    when = datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(
        seconds=second
    )
    night = sky.night_containing(site, when)
    assert when < night.window.end
    assert (night.window.start - when).total_seconds() < 86400.0
    before = sky.night(site, night.date - timedelta(days=1))
    assert before.window.end <= when
    assert sky.night(site, night.date).window == night.window


def test_a_site_without_a_zone_still_gets_its_own_evening() -> None:
    plains = Site(latitude_deg=40.0, longitude_deg=-90.0)
    zoned = Site(latitude_deg=40.0, longitude_deg=-90.0, zone="America/Chicago")
    day = date(2025, 6, 21)
    assert sky.night(plains, day).window == sky.night(zoned, day).window
    island = Site(latitude_deg=-35.0, longitude_deg=150.0)
    zoned = Site(latitude_deg=-35.0, longitude_deg=150.0, zone="Australia/Sydney")
    assert sky.night(island, day).window == sky.night(zoned, day).window


def test_no_full_darkness_is_said_with_how_deep_the_sun_gets() -> None:
    night = sky.night(
        Site(latitude_deg=57.0, longitude_deg=10.0, zone="Europe/Copenhagen"),
        date(2025, 6, 21),
    )
    assert night.dark is None
    assert night.note == (
        "No full darkness: the Sun gets no deeper than 9.6° below the horizon."
    )


def test_an_ordinary_night_needs_no_note() -> None:
    site = Site(latitude_deg=37.1, longitude_deg=-3.4, zone="Europe/Madrid")
    assert sky.night(site, date(2025, 9, 14)).note == ""


def test_the_poles_have_days_and_nights_half_a_year_long() -> None:
    pole = Site(latitude_deg=90.0, longitude_deg=0.0)
    assert "does not set" in sky.night(pole, date(2025, 6, 21)).note
    winter = sky.night(pole, date(2025, 12, 23))
    assert "does not rise" in winter.note
    assert winter.dark == winter.window


def test_twilight_all_day_is_one_span() -> None:
    # Longyearbyen in February: the Sun comes near the horizon at noon, never above it.
    night = sky.night(
        Site(latitude_deg=78.2, longitude_deg=15.6, zone="Arctic/Longyearbyen"),
        date(2025, 2, 8),
    )
    assert "does not rise" in night.note
    assert night.civil is not None
    assert inside(night.dark, night.nautical)


def test_times_beyond_the_ephemeris_are_refused_in_a_line() -> None:
    start, end = sky.ephemeris_span()
    assert (start.year, end.year) == (1899, 2053)
    site = Site(latitude_deg=0.0, longitude_deg=0.0)
    for function in (sky.sun_teme_km, sky.moon_teme_km, sky.earth_velocity_km_s):
        assert np.isfinite(function(start, 0.0)).all()
        assert np.isfinite(function(end, -1.0)).all()
        for when in (start - timedelta(hours=1), end + timedelta(hours=1)):
            with pytest.raises(OutsideEphemeris, match="which serves 1899-07-30"):
                function(when, 0.0)
    with pytest.raises(OutsideEphemeris):
        sky.night(site, date(2060, 1, 1))
    # the Earth's rotation needs no ephemeris
    assert np.isfinite(sky.gmst_rad(end + timedelta(days=4000), 0.0))


def test_impossible_requests_are_refused_in_words() -> None:
    site = Site(latitude_deg=0.0, longitude_deg=0.0, zone="Europe/Atlantis")
    with pytest.raises(InputError, match="no time zone named 'Europe/Atlantis'"):
        sky.night(site, date(2025, 1, 1))
    with pytest.raises(InputError, match="has no zone"):
        sky.gmst_rad(datetime(2025, 1, 1), 0.0)
    with pytest.raises(InputError, match="has no zone"):
        sky.night_containing(
            Site(latitude_deg=0, longitude_deg=0), datetime(2025, 1, 1)
        )
    with pytest.raises(InputError, match="too long"):
        sky.gmst_rad(datetime(2025, 1, 1, tzinfo=UTC), [0.0, 9e7])
    with pytest.raises(UnknownName, match="saturn"):
        sky.body_icrs("vulcan", site, datetime(2025, 1, 1, tzinfo=UTC), 0.0)


def test_a_million_times_in_pieces_are_what_a_few_are_alone() -> None:
    start = datetime(2025, 9, 14, 17, tzinfo=UTC)
    site = Site(latitude_deg=37.1, longitude_deg=-3.4)
    time_s = np.linspace(0.0, 5 * 86400.0, 20_001)
    some = [0, 8191, 8192, 16_384, 20_000]
    for function in (
        lambda t: sky.sun_altitude_deg(site, start, t),
        lambda t: sky.moon_altaz(site, start, t)[1],
        lambda t: sky.body_icrs("moon", site, start, t)[0],
        lambda t: sky.sun_teme_km(start, t),
    ):
        np.testing.assert_allclose(
            function(time_s)[some], function(time_s[some]), rtol=1e-12, atol=1e-12
        )
