"""Where streaks enter and leave a frame, held against skyfield on the same elements.

Reference library: skyfield with JPL DE421; places are its
``(earth + site).at(t).observe(earth + satellite)``.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from one_satellite import moments, planets, seen_by_skyfield

pytest.importorskip("astropy")
pytest.importorskip("passes_plugins.streaks")
from made_streaks import services as host

from passes.api import LineOfSight, Site, find_crossings, read_elements
from passes.model import Rig, Session, Sub, Target
from passes_plugins.streaks.assessing import assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.looks import Paths

START = datetime(2025, 9, 13, 19, 30, tzinfo=UTC)
SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
FRAME = Frame(
    ra_deg=314.7,
    dec_deg=30.0,
    position_angle_deg=25.0,
    width_px=4000,
    height_px=2800,
    scale_arcsec_px=1.8,
)


@pytest.fixture(scope="module")
def found(real_data):
    """Crossings of the frame, and of a disc around it, by real objects in an hour."""
    catalogue = read_elements(real_data / "active_2025-09-13.tle.gz")
    disc = LineOfSight.of_field(314.8, 30.1, radius_deg=1.5)
    end = START + timedelta(hours=1)
    return catalogue, *(
        list(find_crossings(catalogue, SITE, line, START, end))
        for line in (FRAME.line_of_sight(), disc)
    )


def seen(catalogue, number, time):
    """RA and Dec of an object from the site at an instant, degrees."""
    row = int(np.flatnonzero(catalogue.catalog_number == number)[0])
    satellite, place = seen_by_skyfield(catalogue, row, SITE)
    earth = planets()["earth"]
    t = moments(START, (time - START).total_seconds())
    there = (earth + place).at(t).observe(earth + satellite)
    ra, dec, _ = there.radec()
    return float(ra.hours) * 15.0, float(dec.degrees)


def beyond_edge_s(frame, place, rate_deg_s):
    """How long an object takes from a place to the frame's edge, about; seconds."""
    right, up = frame.place(*place)
    pairs = zip((right, up), frame.halves, strict=True)
    gaps = [abs(abs(float(at)) - half) for at, half in pairs]
    return np.degrees(min(gaps)) / rate_deg_s


def test_entry_and_exit_of_a_plan_s_frame(found):
    catalogue, whole, _ = found
    checked = 0
    for one in whole:
        if any("field" in flag for flag in one.flags):
            continue
        for point in (one.entry, one.exit):
            place = seen(catalogue, one.catalog_number, point.time)
            assert place == pytest.approx((point.ra_deg, point.dec_deg), abs=2e-5)
            assert beyond_edge_s(FRAME, place, one.angular_rate_deg_s) < 1e-3
            checked += 1
    assert checked > 20


def test_a_disc_cut_to_the_frame_agrees_with_the_frame_itself(found):
    """Low objects within a millisecond, slower ones within an arcsecond."""
    _, whole, around = found
    paths = Paths(around)
    stays = paths.through(FRAME)
    mine = {}
    for k, i in enumerate(stays.which.tolist()):
        mine.setdefault(around[i].catalog_number, []).append(k)
    assert stays.which.size == len(whole)
    for one in whole:
        at = [
            (t - paths.origin).total_seconds() for t in (one.entry.time, one.exit.time)
        ]
        off = min(
            max(abs(stays.entry_s[k] - at[0]), abs(stays.exit_s[k] - at[1]))
            for k in mine[one.catalog_number]
        )
        assert off < max(1e-3, 1.0 / 3600.0 / one.angular_rate_deg_s)


def test_no_object_in_a_dithered_frame_is_missed(real_data):
    """Frames moved by anything within the dither hold nobody who is not told."""
    services = host(real_data, 13, 13)
    target = Target(name="field", ra_deg=314.7, dec_deg=30.0, position_angle_deg=25.0)
    rig = Rig(
        name="rig",
        focal_length_mm=430.0,
        aperture_mm=80.0,
        pixel_um=3.75,
        width_px=4000,
        height_px=2800,
    )
    subs = tuple(
        Sub(
            index=i,
            start=START + timedelta(seconds=300.0 * i),
            exposure_s=300.0,
            target=target,
            rig="rig",
        )
        for i in range(12)
    )
    session = Session(rigs=(rig,), targets=(target,), subs=subs, dither_arcsec=900.0)
    found = assess(session, services, Choices(least_chance=0.0))
    told = {
        (mark.crossing.catalog_number, one.sub.index)
        for one in found.judged
        for mark in one.marks
    }
    frame = found.judged[0].frame
    rng = np.random.default_rng(8)
    new = 0
    for _ in range(6):
        right, up = np.radians(900.0 / 3600.0) * rng.uniform(-1.0, 1.0, 2)
        ra, dec = frame.sky(right, up)
        moved = replace(frame, ra_deg=float(ra), dec_deg=float(dec)).line_of_sight()
        for one in services.crossings(moved, window=found.window):
            index = int((one.closest.time - START).total_seconds() // 300.0)
            assert (one.catalog_number, index) in told
            mark = next(
                mark
                for mark in found.judged[index].marks
                if mark.crossing.catalog_number == one.catalog_number
            )
            new += "beside_frame" in mark.crossing.flags
    assert new  # some of them the plan's own frame does not hold
