"""Light and errors of crossings, and which sub gets which crossing."""

import re
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue
from brute_crossings import EarthSatellite, moments, planets, timescale

from passes import testing as kit
from passes.api import find_crossings
from passes.forecast.by_sub import crossings_by_sub, field_of
from passes.forecast.errors_in_time import growth_of
from passes.model import LineOfSight, Session, Site, Sub, Target

SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
FIELD = LineOfSight.of_field(300.0, 20.0, radius_deg=15.0)
HOURS_3 = START + timedelta(hours=3)


@pytest.fixture(scope="module")
def crossings():
    return find_crossings(made_catalogue(1500, seed=3), SITE, FIELD, START, HOURS_3)


def test_records_say_what_the_columns_say(crossings):
    table = crossings.table
    assert len(crossings) == len(table) > 40
    one = crossings[5]
    assert one.catalog_number == table.catalogue.catalog_number[table.row[5]]
    assert (one.entry.time - START).total_seconds() == pytest.approx(
        table.entry.time_s[5], abs=1e-6
    )
    assert one.entry.time < one.exit.time
    assert one.closest_deg == table.closest_deg[5]
    assert [c.entry.time for c in crossings] == sorted(c.entry.time for c in crossings)
    some = crossings[3:8]
    assert [c.entry for c in some] == [crossings[i].entry for i in range(3, 8)]
    assert some[-1] == crossings[7]


def test_sunlit_is_what_skyfield_says_away_from_the_penumbra(crossings):
    # authority: skyfield's is_sunlit (a sharp shadow of a round Earth)
    told = 0
    for i, one in enumerate(crossings):
        table = crossings.table
        satrec = table.catalogue.satrec(int(table.row[i]))
        satellite = EarthSatellite.from_satrec(satrec, timescale())
        around = table.closest.time_s[i] + np.array([-30.0, 0.0, 30.0])
        lit = satellite.at(moments(START, around)).is_sunlit(planets())
        if lit.all() or not lit.any():
            assert one.sunlit == bool(lit[1])
            assert one.sunlit == (one.lit_fraction > 0.0)
            told += 1
    assert told > 40


def test_what_is_not_lit_has_no_magnitude_and_air_dims_the_rest(crossings):
    for one in crossings:
        assert np.isnan(one.magnitude) == (not one.sunlit)
        if one.sunlit and one.altitude_deg > 5.0:
            assert one.magnitude > one.magnitude_above_atmosphere
        assert one.magnitude_basis


def test_errors_are_those_of_the_age_at_the_crossing(crossings):
    table = crossings.table
    growth = growth_of(table.catalogue)
    age_days = (
        table.closest.time_s - table.catalogue.epoch_s(START)[table.row]
    ) / 86_400
    expected = growth.at(table.row, age_days)
    one = crossings[4]
    assert one.element_age_days == pytest.approx(age_days[4])
    assert one.timing_sigma_s == expected.timing_sigma_s[4]
    assert one.timing_sigma_s < one.timing_bound_s
    assert one.cross_track_sigma_km == expected.cross_track_sigma_km[4]


def test_a_known_lateness_is_flagged():
    late = replace(made_catalogue(1500, seed=3), late_s=np.full(1500, 3.0))
    table = find_crossings(late, SITE, FIELD, START, HOURS_3)
    assert all("lateness_applied" in one.flags for one in table)


# --- subs ------------------------------------------------------------------------


def test_the_field_of_a_rig_is_its_sensor_seen_through_its_focal_length():
    rig = kit.rig()
    line = field_of(kit.target(position_angle_deg=30.0), rig)
    half_mm = 0.5 * rig.width_px * rig.pixel_um / 1000.0
    expected = 2 * np.degrees(np.arctan(half_mm / rig.effective_focal_length_mm))
    assert line.width_deg == pytest.approx(expected)
    assert line.position_angle_deg == 30.0
    assert (line.ra_deg[0], line.dec_deg[0]) == (310.0, 40.0)


def test_a_target_is_the_middle_of_its_own_rigs_frame():
    rig = replace(kit.rig(), offset_arcmin=(60.0, 30.0), rotation_deg=12.0)
    line = field_of(Target(name="", ra_deg=100.0, dec_deg=0.0), rig)
    assert (line.ra_deg[0], line.dec_deg[0]) == (100.0, 0.0)
    assert line.position_angle_deg == 0.0


def a_session(rig, minutes=5.0, count=30, **fields):
    target = Target(name="field", ra_deg=300.0, dec_deg=20.0)
    subs = tuple(
        Sub(
            index=i,
            start=START + timedelta(minutes=10 + minutes * i),
            exposure_s=290.0,
            target=target,
            rig=rig.name,
            **fields,
        )
        for i in range(count)
    )
    return Session(rigs=(rig,), targets=(target,), subs=subs)


@pytest.fixture(scope="module")
def finding():
    """How the host finds, and how often it was asked."""
    catalogue = made_catalogue(1500, seed=3)
    asked = []

    def find(line, span):
        asked.append((line, span))
        return find_crossings(catalogue, SITE, line, span.start, span.end)

    return find, asked


def test_each_sub_gets_what_touches_it_or_may(finding):
    find, asked = finding
    asked.clear()
    wide = replace(kit.bare_rig(), focal_length_mm=50.0)
    session = a_session(wide)
    by_sub = crossings_by_sub(session, find)
    assert len(asked) == 1  # one field, one search
    every = find(*asked[0])
    assert sorted(by_sub) == list(range(30))
    assert sum(len(found) for found in by_sub.values()) > 30
    for sub in session.subs:
        got = {(c.catalog_number, c.entry.time) for c in by_sub[sub.index]}
        for one in every:
            room = timedelta(seconds=one.timing_bound_s)
            may = one.entry.time - room <= sub.end and one.exit.time + room >= sub.start
            assert ((one.catalog_number, one.entry.time) in got) == may


def test_subs_have_pixels_as_a_tangent_projection_gives_them(finding):
    # authority: astropy.wcs, a TAN projection with the frame turned by 25°
    from astropy.wcs import WCS

    find, _ = finding
    rig = replace(kit.bare_rig(), focal_length_mm=80.0, rotation_deg=5.0)
    session = a_session(rig)
    turned = tuple(
        replace(sub, target=replace(sub.target, position_angle_deg=25.0))
        for sub in session.subs
    )
    by_sub = crossings_by_sub(replace(session, subs=turned), find)
    wcs = WCS(naxis=2)
    wcs.wcs.ctype = ["RA---TAN", "DEC--TAN"]
    wcs.wcs.crval = [300.0, 20.0]
    wcs.wcs.crpix = [(rig.width_px + 1) / 2, (rig.height_px + 1) / 2]
    scale, angle = rig.scale_arcsec_px / 3600.0, np.radians(25.0)
    c, s = np.cos(angle), np.sin(angle)
    wcs.wcs.cd = scale * np.array([[-c, s], [s, c]])
    seen = [one for found in by_sub.values() for one in found]
    assert len(seen) > 10
    for one in seen:
        for point in (one.entry, one.exit, one.closest):
            x, y = wcs.all_world2pix(point.ra_deg, point.dec_deg, 1)
            assert point.x_px == pytest.approx(float(x), abs=1e-3)
            assert point.y_px == pytest.approx(float(y), abs=1e-3)
            assert 0.49 < point.x_px < rig.width_px + 0.51
            assert 0.49 < point.y_px < rig.height_px + 0.51


def test_two_fields_are_two_searches_and_an_unknown_rig_is_none(finding):
    find, asked = finding
    asked.clear()
    wide = kit.bare_rig()
    session = a_session(wide, count=4)
    other = replace(session.subs[1], target=Target(name="b", ra_deg=310, dec_deg=30))
    lost = replace(session.subs[2], rig="nobody's")
    session = replace(session, subs=(session.subs[0], other, lost, session.subs[3]))
    by_sub = crossings_by_sub(session, find)
    assert len(asked) == 2
    assert sorted(by_sub) == [0, 1, 3]


def test_a_session_without_subs_asks_for_nothing(finding):
    find, asked = finding
    asked.clear()
    assert crossings_by_sub(Session(), find) == {}
    assert not asked


def test_an_object_in_the_field_all_the_time_stands_in_every_sub(finding):
    find, _ = finding
    session = a_session(kit.bare_rig(), count=6)
    # the geostationary belt as seen from here: fifteen degrees an hour, half of it long
    belt = Target(name="belt", ra_deg=300.0, dec_deg=-6.0)
    subs = tuple(replace(sub, target=belt) for sub in session.subs)
    by_sub = crossings_by_sub(replace(session, subs=subs), find)
    numbers = [{one.catalog_number for one in found} for found in by_sub.values()]
    assert set.intersection(*numbers)


def test_the_notebook_in_readme_prints_what_it_shows(root, monkeypatch, capsys):
    text = (root / "README.md").read_text(encoding="utf-8")
    section = text.split("## From a notebook: what crosses a field")[1]
    code, shown = re.findall(r"```(?:python)?\n(.*?)```", section, re.DOTALL)[:2]
    monkeypatch.chdir(root)
    exec(compile(code, "README.md", "exec"), {})
    assert capsys.readouterr().out == shown
    assert shown.count("\n") > 3
