"""Rise, set, twilight and places of Sun and Moon against almanac values."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from tolerances import PRINTED_PHASE_DEG, TWILIGHT_S, USNO_ARCSEC, USNO_RISE_SET_S

from passes import roots, sky
from passes.constants import MOON_RADIUS_KM
from passes.model import Night, Site
from passes.vectors import apply, norm, separation_rad, spherical

Published = Callable[[str], list[dict[str, str]]]

EST = timezone(timedelta(hours=-5))
EDT = timezone(timedelta(hours=-4))
BLUFFTON = Site(latitude_deg=40.8939, longitude_deg=-83.8917, zone="America/New_York")
ATLANTA = Site(latitude_deg=33.76, longitude_deg=-84.41, height_m=322.0)


def seconds_apart(found: datetime, printed: datetime) -> float:
    return abs((found - printed).total_seconds())


def site_of(row: dict[str, str]) -> Site:
    return Site(
        latitude_deg=float(row["latitude_deg"]),
        longitude_deg=float(row["longitude_deg"]),
        zone="America/New_York",
    )


def test_sunset_and_sunrise_to_the_printed_minute(published: Published) -> None:
    for row in published("usno_sun_moon.csv"):
        if row["body"] != "sun":
            continue
        site, day = site_of(row), date.fromisoformat(row["date"])
        rise = sky.night(site, day - timedelta(days=1)).window.end
        fall = sky.night(site, day).window.start
        for found, text in ((rise, row["rise"]), (fall, row["set"])):
            printed = datetime.fromisoformat(f"{day}T{text}").replace(tzinfo=EST)
            assert seconds_apart(found, printed) <= USNO_RISE_SET_S


def test_moonrise_and_moonset_to_the_printed_minute(published: Published) -> None:
    for row in published("usno_sun_moon.csv"):
        if row["body"] != "moon":
            continue
        site = site_of(row)
        for text in (row["rise"], row["set"]):
            printed = datetime.fromisoformat(f"{row['date']}T{text}").replace(
                tzinfo=EST
            )

            def upper_limb(t: np.ndarray, site: Site = site, at: datetime = printed):  # type: ignore[no-untyped-def]
                vector = sky.moon_teme_km(at, t) - sky.site_teme_km(site, at, t)
                disc = np.degrees(np.arcsin(MOON_RADIUS_KM / norm(vector)))
                return sky.moon_altaz(site, at, t)[0] + disc + 34.0 / 60.0

            found = roots.refine(upper_limb, [-120.0], [120.0], 0.01)
            assert abs(float(found[0])) <= USNO_RISE_SET_S


def test_the_moon_of_a_night_rises_when_printed(published: Published) -> None:
    row = next(r for r in published("usno_sun_moon.csv") if r["body"] == "moon")
    night = sky.night(site_of(row), date(1983, 12, 31))
    (up,) = night.moon_up
    printed = datetime(1984, 1, 1, 5, 53, tzinfo=EST)
    assert seconds_apart(up.start, printed) <= USNO_RISE_SET_S
    assert up.end == night.window.end


def edges(night: Night) -> list[datetime]:
    """Start and end of the stages, deepest first."""
    spans = (night.dark, night.nautical, night.civil, night.window)
    return [time for span in spans if span for time in (span.start, span.end)]


#: Dark, nautical, civil, day; morning and evening.
MORNING_AND_EVENING = (
    *("05:09:35", "05:46:19", "06:20:59", "06:49:46"),
    *("22:00:41", "21:23:44", "20:48:55", "20:20:03"),
)


def test_the_worked_twilights() -> None:
    # skyfield documentation, examples.rst: Bluffton, 2020-04-19, EDT; printed cut to
    # the minute as 05:09 05:46 06:20 06:49, 20:20 20:48 21:23 22:00, seconds computed.
    morning = edges(sky.night(BLUFFTON, date(2020, 4, 18)))[1::2]
    evening = edges(sky.night(BLUFFTON, date(2020, 4, 19)))[0::2]
    for found, text in zip(
        [*morning, *evening],
        MORNING_AND_EVENING,
        strict=True,
    ):
        printed = datetime.fromisoformat(f"2020-04-19T{text}").replace(tzinfo=EDT)
        assert seconds_apart(found, printed) <= TWILIGHT_S


def test_sunrise_sunset_and_moon_of_the_documentation() -> None:
    # skyfield documentation, almanac.rst: Bluffton, times in UTC.
    assert (
        seconds_apart(
            sky.night(BLUFFTON, date(2018, 9, 11)).window.end,
            datetime(2018, 9, 12, 11, 13, 12, tzinfo=UTC),
        )
        <= TWILIGHT_S
    )
    assert (
        seconds_apart(
            sky.night(BLUFFTON, date(2018, 9, 12)).window.start,
            datetime(2018, 9, 12, 23, 49, 38, tzinfo=UTC),
        )
        <= TWILIGHT_S
    )
    night = sky.night(BLUFFTON, date(2023, 12, 27))
    (up,) = night.moon_up
    # its Moon rises with −34′ and the limb, as ours
    assert (
        seconds_apart(up.start, datetime(2023, 12, 27, 22, 40, 11, tzinfo=UTC)) <= 2.0
    )


@pytest.mark.parametrize("day", [20, 21, 22, 23])
def test_polar_night(day: int) -> None:
    # skyfield documentation, almanac.rst: Harra, 2022-12-20 to 23, the noon Sun stays
    # at −0.8387, −0.8464, −0.8461, −0.8380°: no rise.
    site = Site(latitude_deg=67.4066, longitude_deg=20.0997, zone="Europe/Stockholm")
    night = sky.night(site, date(2022, 12, day))
    noon = float(sky.sun_altitude_deg(site, night.window.start, 0.0))
    published = {20: -0.8387, 21: -0.8464, 22: -0.8461, 23: -0.8380}[day]
    assert noon == pytest.approx(published, abs=2e-4)
    if day == 23:  # the noon after it is the first with a Sun
        assert "down at noon" in night.note
        return
    assert "does not rise" in night.note
    assert night.window.duration_s == pytest.approx(86400.0, abs=40.0)
    assert night.dark is not None


def test_polar_day() -> None:
    # skyfield documentation, almanac.rst: Utqiaġvik, lowest 4.7265° on 2023-06-21 UTC.
    site = Site(latitude_deg=71.2906, longitude_deg=-156.7886, zone="America/Anchorage")
    night = sky.night(site, date(2023, 6, 20))
    middle = night.window.duration_s / 2.0
    around = np.linspace(middle - 900.0, middle + 900.0, 181)
    lowest = float(sky.sun_altitude_deg(site, night.window.start, around).min())
    assert lowest == pytest.approx(4.7265, abs=2e-4)
    assert "does not set" in night.note
    assert (night.civil, night.nautical, night.dark) == (None, None, None)


def test_phases_of_the_moon(published: Published) -> None:
    for row in published("usno_phases_1980.csv"):
        when = datetime.fromisoformat(row["time"]).replace(tzinfo=UTC)
        longitude = [ecliptic_longitude_deg(f(when, 0.0)) for f in BODIES]
        difference = longitude[1] - longitude[0] - float(row["elongation_deg"])
        assert abs((difference + 180.0) % 360.0 - 180.0) < PRINTED_PHASE_DEG


BODIES = (sky.sun_teme_km, sky.moon_teme_km)


def ecliptic_longitude_deg(equatorial: np.ndarray) -> float:
    """Longitude from the equator of date, obliquity of 1980 (23.4417°)."""
    tilt = np.radians(23.4417)
    x, y, z = equatorial
    return float(np.degrees(np.arctan2(y * np.cos(tilt) + z * np.sin(tilt), x)))


@pytest.mark.parametrize(
    ("of", "when", "ra", "dec", "distance_km"),
    [
        (
            sky.moon_teme_km,
            datetime(2008, 7, 1, tzinfo=UTC),
            (4, 27, 8.925),
            (25, 59, 7.67),
            361552.827,
        ),
        (
            sky.sun_teme_km,
            datetime(2007, 9, 26, tzinfo=UTC),
            (12, 9, 17.739),
            (-1, -0, -33.71),
            1.002773878 * 149597870.7,
        ),
    ],
    ids=["moon", "sun"],
)
def test_topocentric_places(  # type: ignore[no-untyped-def]
    of,
    when: datetime,
    ra: tuple[float, ...],
    dec: tuple[float, ...],
    distance_km: float,
) -> None:
    # USNO (MICA), Atlanta, 322 m, 0h UT1, true equator of date; as kept in PyEphem's
    # ephem/tests/usno (apptopo_moon.txt, apptopo_sun.txt).  UT1 − UTC was −0.4 s.
    site = Site(latitude_deg=33.76, longitude_deg=-84.41, height_m=322.0)
    utc_s = 0.4
    vector = of(when, utc_s) - sky.site_teme_km(site, when, utc_s)
    turn = sky.true_of_date_from_icrs(when, utc_s) @ sky.teme_to_icrs(when, utc_s)
    lon, lat, distance = spherical(apply(turn, vector))
    sign = -1.0 if min(dec) < 0 else 1.0
    hours = ra[0] + ra[1] / 60 + ra[2] / 3600
    degrees = sign * (abs(dec[0]) + abs(dec[1]) / 60 + abs(dec[2]) / 3600)
    published = direction_deg(hours * 15.0, degrees)
    found = direction_deg(float(np.degrees(lon)), float(np.degrees(lat)))
    apart = float(np.degrees(separation_rad(found, published))) * 3600.0
    assert apart < USNO_ARCSEC
    assert float(distance) == pytest.approx(distance_km, rel=2e-6)


def direction_deg(lon: float, lat: float) -> np.ndarray:
    """A unit vector from angles in degrees."""
    a, b = np.radians([lon, lat])
    return np.array([np.cos(a) * np.cos(b), np.sin(a) * np.cos(b), np.sin(b)])


@pytest.mark.parametrize(
    ("when", "phase_deg", "lit"),
    [
        # skyfield documentation, almanac.rst: 51.3° in longitude from the Sun on
        # 2020-11-19 0h UTC; Meeus 48.a: k = 0.6786 on 1992-04-12 0h TD.
        (datetime(2020, 11, 19, tzinfo=UTC), 51.3, None),
        (datetime(1992, 4, 12, tzinfo=UTC) - timedelta(seconds=59), None, 0.6786),
    ],
)
def test_phase_of_the_moon(
    when: datetime, phase_deg: float | None, lit: float | None
) -> None:
    sun, moon = sky.sun_teme_km(when, 0.0), sky.moon_teme_km(when, 0.0)
    if phase_deg is not None:
        elongation = ecliptic_longitude_deg(moon) - ecliptic_longitude_deg(sun)
        assert elongation % 360.0 == pytest.approx(phase_deg, abs=0.06)
    if lit is not None:
        from passes.photometry import phase_angle_rad

        phase = float(phase_angle_rad(moon, sun, np.zeros(3)))
        assert (1.0 + np.cos(phase)) / 2.0 == pytest.approx(lit, abs=1.5e-4)
