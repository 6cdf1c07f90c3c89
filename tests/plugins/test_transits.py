"""Transits: what the plugin offers, and what must hold of events, strips and files."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import cos, radians, sin

import geojson
import gpxpy
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import passes_plugins.transits as plugin
from passes import sky, strip, vectors
from passes import testing as kit
from passes.config import Config
from passes.contributions import Answer
from passes.crossings import search_crossings
from passes.errors import InputError, NothingToSearch, PassesError
from passes.forecast import Request, build
from passes.model import Growth, LineOfSight, Site, Span
from passes.registry import Registry
from passes.tables import Screen
from passes_plugins.transits import as_geojson, as_gpx, as_kml
from passes_plugins.transits.area import read_area
from passes_plugins.transits.cautions import SUN
from passes_plugins.transits.date_line import cut_line, cut_ring
from passes_plugins.transits.document import document
from passes_plugins.transits.finding import find
from passes_plugins.transits.nearest import settled_at_age
from passes_plugins.transits.outlook import outlook
from passes_plugins.transits.page import page
from passes_plugins.transits.reporting import report
from passes_plugins.transits.sizing import Sizes
from passes_plugins.transits.telling import event_id
from passes_plugins.transits.wanted import Wanted

UNTIL = datetime(2029, 3, 22, tzinfo=UTC)


def made(**fields):
    request = Request(demo=True, **fields)
    services = build(request, Registry.from_entry_points(), Config())
    return services.for_plugin("transits")


@pytest.fixture(scope="module")
def services():
    return made()


@pytest.fixture(scope="module")
def found(services):
    return find(services, Wanted(reach_km=100.0, until=UNTIL))


def answer(found, **fields):
    given = Answer(
        kind="transits",
        items=found.events,
        document=document(found),
        site=found.site,
        window=found.window,
        demo=found.demo,
    )
    return replace(given, **fields)


def test_the_plugin_holds_on_sample_records():
    checkup = kit.check_plugin(plugin)
    assert checkup.findings == ()
    assert any("geojson" in call for call in checkup.ran)


# --- events ------------------------------------------------------------------------


def test_the_demo_shows_what_its_description_says(found):
    said = [
        (event.details["body"], event.best.strftime("%d %H:%M"), from_km(event))
        for event in found.events
    ]
    assert said == [
        ("moon", "20 18:21", 1),
        ("sun", "21 12:43", 16),
        ("moon", "21 12:44", 12),
    ]
    assert [event.details["from_site"] for event in found.events] == [
        True,
        False,
        False,
    ]


def from_km(event):
    return round(event.details["strip"]["nearest"]["distance_km"])


def test_the_details_agree_with_each_other(found):
    for event in found.events:
        d = event.details
        length = (event.end - event.start).total_seconds()
        assert d["duration_s"] == pytest.approx(length, abs=6e-6)  # six digits
        radius = d["disc_diameter_arcsec"] / 7200.0
        assert d["separation_deg"] == pytest.approx(
            d["offset_radii"] * radius, rel=1e-4, abs=1e-6
        )
        chord = 2.0 * radius * np.sqrt(1.0 - d["offset_radii"] ** 2)
        assert d["duration_s"] * d["angular_rate_deg_s"] == pytest.approx(chord, 1e-3)
        assert 0.0 <= d["lit_part_s"] <= d["duration_s"]
        # from entry to exit it moves as the chord's position angle says
        enters, leaves = (
            radians(d[f"{which}_position_angle_deg"]) for which in ("entry", "exit")
        )
        east, north = sin(leaves) - sin(enters), cos(leaves) - cos(enters)
        moved = np.degrees(np.arctan2(east, north)) % 360.0
        assert moved == pytest.approx(d["chord_position_angle_deg"], abs=0.1)
        assert d["size_arcsec"] == pytest.approx(
            104.0 / (d["range_km"] * 1000.0) * 206265.0, rel=0.01
        )


def test_elements_measured_after_a_transit_are_not_called_old(found):
    first = found.events[0]
    later = replace(first, details={**first.details, "element_age_days": -0.4})
    told = " ".join(page(replace(found, events=(later,)), Screen()).split())
    assert "; elements measured 0.4 days later" in told
    assert "-0.4" not in told
    assert "days old" not in told


def test_the_sun_has_no_phase_and_hides_no_part(found):
    sun = next(one.details for one in found.events if one.details["body"] == "sun")
    assert sun["illuminated"] is None
    assert sun["terminator"] is None
    assert sun["appearance"] == "silhouette"
    assert sun["lit_part_s"] == pytest.approx(sun["duration_s"], abs=1e-6)


def test_near_misses_come_only_when_asked_for(services):
    without = find(services, Wanted(until=UNTIL))
    within = find(services, Wanted(until=UNTIL, within_deg=2.0))
    assert [event.details["near_miss"] for event in without.events] == [False]
    misses = [one for one in within.events if one.details["near_miss"]]
    assert len(misses) >= 2
    for event in misses:
        assert event.start == event.best == event.end
        assert event.details["duration_s"] == 0.0
        assert event.details["offset_radii"] > 1.0
        assert event.details["separation_deg"] <= 2.0
        assert event.weight < 1.0


def test_a_small_circle_still_holds_whole_discs(services):
    """Near misses within less than the disc are no misses: transits stay."""
    some = find(services, Wanted(until=UNTIL, within_deg=0.05))
    assert [event.details["near_miss"] for event in some.events] == [False]


def test_fresher_elements_keep_an_events_name():
    when = datetime(2029, 3, 20, 18, 21, 53, tzinfo=UTC)
    assert event_id("moon", 80001, when) == "80001-moon-20290320T1820"
    later = when + timedelta(seconds=40)
    assert event_id("moon", 80001, later) == "80001-moon-20290320T1820"


def test_a_session_hears_of_its_transits():
    start = datetime(2029, 3, 20, 17, tzinfo=UTC)
    services = made(start=start, end=start + timedelta(hours=4))
    heard = report(kit.session_briefing(services=services))
    assert [event.kind for event in heard.events] == ["transit"]
    assert heard.summary["transits"] == 1
    assert any(note.severity == "warning" for note in heard.notes)


def test_a_planet_on_request(services):
    window = find(services, Wanted(bodies=("jupiter",), reach_km=500.0, until=UNTIL))
    for event in window.events:
        assert event.details["body"] == "jupiter"
        assert 25.0 < event.details["disc_diameter_arcsec"] < 52.0


# --- strips ------------------------------------------------------------------------


def ground(pairs, height_m):
    lon, lat = np.radians(np.array(pairs)).T
    return strip.from_geodetic(lat, lon, height_m / 1000.0)


def test_left_is_left_and_the_nearest_point_is_nearest(found):
    for event in found.events:
        lines = event.details["strip"]
        centre, left, right = (
            ground(lines[name], lines["height_m"])
            for name in ("centre", "left", "right")
        )
        along = centre[2:] - centre[:-2]
        up = strip.up_at(centre[1:-1])
        to_left = vectors.cross(up, along)
        assert (vectors.dot(left[1:-1] - centre[1:-1], to_left) > 0.0).all()
        assert (vectors.dot(right[1:-1] - centre[1:-1], to_left) < 0.0).all()
        site = sky.site_km(found.site)
        far = vectors.norm(centre - site)
        assert far.max() <= 100.0
        nearest = lines["nearest"]["distance_km"]
        assert nearest == pytest.approx(far.min(), abs=0.01)
        times = [point["time"] for point in lines["way_points"]]
        assert times == sorted(times)
        assert 0.0 in [point["along_km"] for point in lines["way_points"]]


def test_the_heading_is_the_lines_own(found):
    for event in found.events:
        lines = event.details["strip"]
        centre = ground(lines["centre"], lines["height_m"])
        nearest = lines["nearest"]
        place = Site(
            latitude_deg=nearest["latitude_deg"],
            longitude_deg=nearest["longitude_deg"],
        )
        axes = sky.site_axes(place)
        at = int(vectors.norm(centre - sky.site_km(place)).argmin())
        step = axes @ (centre[at + 1] - centre[at - 1])
        heading = np.degrees(np.arctan2(step[0], step[1])) % 360.0
        assert heading == pytest.approx(lines["bearing_deg"], abs=0.5)


def test_higher_ground_moves_the_line_towards_the_body(services, found):
    """A hundred metres move a point by 0.1 / tan(altitude) km; across the line less."""
    high = find(services, Wanted(reach_km=100.0, until=UNTIL, height_m=1250.0))
    for low_event, high_event in zip(found.events, high.events, strict=True):
        low, up = low_event.details["strip"], high_event.details["strip"]
        assert (low["height_m"], up["height_m"]) == (1150.0, 1250.0)
        by_rule = 0.1 / np.tan(radians(low["nearest"]["altitude_deg"]))
        assert low["shift_km_per_100_m"] == pytest.approx(by_rule, abs=6e-4)
        centre = ground(low["centre"], 1150.0)
        moved = ground([up["centre"][40]], 1150.0)[0]
        beside = vectors.norm(centre - moved).min()
        assert beside <= by_rule + 1.3  # half the spacing of the points


def test_the_shift_is_the_turning_of_the_ground(found):
    """Never more than the ground turns in the bound; and both parts make the whole."""
    for event in found.events:
        lines = event.details["strip"]
        turning = 0.4651 * cos(radians(41.0)) * event.timing_bound_s
        # on a slope towards the body a shift grows by one over the sine
        slope = sin(radians(lines["nearest"]["altitude_deg"]))
        assert 0.0 < lines["shift_by_time_km"] <= turning / slope
        both = np.hypot(lines["shift_by_time_km"], lines["shift_by_cross_track_km"])
        assert lines["shift_km"] == pytest.approx(both, rel=0.01)
        assert event.details["ground_shift_km"] == lines["shift_km"]
        decide = datetime.fromisoformat(lines["decide_from"])
        assert timedelta() < event.best - decide < timedelta(days=30)


def test_an_area_keeps_what_lies_inside(services, tmp_path):
    ring = [[-2.4, 41.0], [-1.6, 41.0], [-1.6, 41.6], [-2.4, 41.6], [-2.4, 41.0]]
    hole = [[-2.2, 41.1], [-2.1, 41.1], [-2.1, 41.2], [-2.2, 41.2], [-2.2, 41.1]]
    path = tmp_path / "area.geojson"
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [ring, hole]}))
    area = read_area(path, services.site.longitude_deg)
    inside = find(services, Wanted(reach_km=110.0, area=area, until=UNTIL))
    assert 0 < len(inside.events) < 3
    for event in inside.events:
        points = np.array(event.details["strip"]["centre"])
        assert (points[:, 0] > -2.41).all()
        assert (points[:, 1] > 40.99).all()
        nearest = event.details["strip"]["nearest"]
        held = area.holds(
            np.array([nearest["longitude_deg"]]), np.array([nearest["latitude_deg"]])
        )
        assert held.all()


def test_holes_and_the_date_line_in_areas(tmp_path):
    ring = [[179.0, -1.0], [-179.0, -1.0], [-179.0, 1.0], [179.0, 1.0], [179.0, -1.0]]
    hole = [[179.9, -0.1], [-179.9, -0.1], [-179.9, 0.1], [179.9, 0.1], [179.9, -0.1]]
    path = tmp_path / "area.geojson"
    feature = {
        "type": "Feature",
        "properties": None,
        "geometry": {"type": "MultiPolygon", "coordinates": [[ring, hole]]},
    }
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    area = read_area(path, -179.5)
    held = area.holds(
        np.array([179.5, -179.5, 180.0, 178.0]), np.array([0.5, 0.5, 0.0, 0.0])
    )
    assert held.tolist() == [True, True, False, False]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "not GeoJSON"),
        ("[1, 2]", "not GeoJSON"),
        ('{"type": "Point", "coordinates": [1, 2]}', "no polygon"),
        ('{"type": "Polygon", "coordinates": [[[1, 2], [3, 4]]]}', "four places"),
        ('{"type": "Polygon", "coordinates": [["x"]]}', "longitude, latitude"),
        (
            '{"type": "Polygon", "coordinates": [[[0,0],[0,95],[1,95],[0,0]]]}',
            "leaves the Earth",
        ),
        ('{"type": "Shape"}', "type 'Shape'"),
        ('{"type": "FeatureCollection"}', "without features"),
        ("[" * 100_000, "not GeoJSON"),
    ],
)
def test_a_bad_area_is_one_line_with_its_file(tmp_path, content, said):
    path = tmp_path / "bad.geojson"
    path.write_text(content)
    with pytest.raises(InputError) as caught:
        read_area(path, 0.0)
    message = str(caught.value)
    assert "bad.geojson" in message
    assert said in message or "nested too deeply" in message
    assert "\n" not in message


# --- how far ahead -----------------------------------------------------------------


def grown(**fields):
    given = {
        "sigma0_s": 0.1,
        "sigma1_s": 0.1,
        "bound0_s": 0.2,
        "bound1_s": 0.5,
        "power": 2.0,
        "cross0_km": 0.0,
        "cross1_km": 0.0,
    }
    return Growth(**{**given, **fields})


def test_the_age_at_which_a_line_is_settled_by_hand():
    """0.35 km/s times 0.5 s a day² reaches 5.6 km after the square root of 32 days."""
    age = settled_at_age(grown(bound0_s=0.0), 5.6, 0.35, 0.0)
    assert age == pytest.approx(np.sqrt(32.0), abs=0.03)
    assert np.isnan(settled_at_age(grown(bound0_s=100.0), 5.6, 0.35, 0.0))


@given(st.floats(0.5, 20.0), st.floats(0.1, 0.46))
def test_more_room_is_more_time(room_km, km_per_s):
    growth = grown()
    less = settled_at_age(growth, room_km, km_per_s, 1.0)
    more = settled_at_age(growth, 2.0 * room_km, km_per_s, 1.0)
    assert np.isnan(less) or more >= less


def test_events_after_the_outlook_are_left_out_unless_asked_for(services):
    asked = find(
        services, Wanted(reach_km=100.0, until=datetime(2029, 3, 30, tzinfo=UTC))
    )
    usual = find(services, Wanted(reach_km=100.0))
    until = {one.catalog_number: one.until for one in usual.outlooks}
    assert all(one.best <= until[one.catalog_number] for one in usual.events)
    assert len(asked.events) > len(usual.events) > 0
    late = document(asked)["transits"][-1]
    assert late["beyond_outlook"] is True


def test_an_outlook_reaches_until_the_strip_is_in_doubt(services):
    one = services.catalogue(objects=("80001",))[0]
    seen = outlook(services, one)
    assert timedelta(days=1) < seen.until - seen.epoch < timedelta(days=15)


def test_old_elements_are_refused_by_name_unless_anyway():
    late = datetime(2029, 4, 14, 20, tzinfo=UTC)
    services = made(now=late, objects=("80001",))
    with pytest.raises(PassesError, match=r"DEMO STATION are 2\d\.\d days old") as told:
        find(services, Wanted(named=True))
    assert "--anyway" in str(told.value)
    anyway = find(services, Wanted(named=True, anyway=True))
    assert anyway.window == Span(start=late, end=late + timedelta(days=14))


def test_nothing_large_is_said_with_what_to_do():
    services = made()
    small = services.catalogue(objects=("80012", "80013"))
    services.catalogue = lambda window=None, objects=None: small
    with pytest.raises(NothingToSearch, match="--object"):
        find(services, Wanted())


def test_a_body_that_stays_down_is_one_line():
    services = made(site=Site(latitude_deg=89.9, longitude_deg=0.0))
    down = find(services, Wanted(bodies=("sun",), until=UNTIL))
    assert down.events == ()
    assert len(down.notes) == 1
    assert "below 20° all the while" in down.notes[0].text


def test_sizes_come_from_the_own_table_first(tmp_path):
    with pytest.raises(InputError, match="sizes"):
        Sizes({"size": "x"})
    with pytest.raises(InputError, match="cannot be read"):
        Sizes({"sizes": str(tmp_path / "none.csv")})
    own = tmp_path / "sizes.csv"
    own.write_text("object,catalog_number\nx,1\n")
    with pytest.raises(InputError, match="column"):
        Sizes({"sizes": str(own)})
    assert Sizes({}).of(25544, "ISS (ZARYA)").length_m > 100.0


# --- files ---------------------------------------------------------------------------


def test_geojson_as_another_reader_sees_it(found):
    text = as_geojson.export(answer(found))
    read = geojson.loads(text)
    assert isinstance(read, geojson.FeatureCollection)
    assert read.is_valid
    assert read["demo"] is True
    assert SUN in read["description"]
    roles = {}
    for feature in read["features"]:
        assert feature.is_valid
        assert feature["properties"]["caution"]
        roles.setdefault(feature["properties"]["role"], []).append(feature)
    assert {len(roles[role]) for role in ("strip", "centre line", "nearest")} == {3}
    sun = [f for f in read["features"] if "-sun-" in str(f["id"])]
    assert all(SUN in feature["properties"]["caution"] for feature in sun)
    for feature in roles["strip"]:
        (ring,) = feature["geometry"]["coordinates"]
        assert ring[0] == ring[-1]
        area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:]))  # noqa: B905, RUF007
        assert area > 0.0  # counter-clockwise, RFC 7946 section 3.1.6


def test_gpx_as_another_reader_sees_it(found):
    read = gpxpy.parse(as_gpx.export(answer(found)))
    assert read.version == "1.1"
    assert SUN in read.description
    assert len(read.tracks) == 9
    points = sum(len(e.details["strip"]["way_points"]) + 1 for e in found.events)
    assert len(read.waypoints) == points
    first = found.events[0].details["strip"]["nearest"]
    near = read.waypoints[0]
    assert near.latitude == pytest.approx(first["latitude_deg"], abs=1e-6)
    assert near.longitude == pytest.approx(first["longitude_deg"], abs=1e-6)
    assert abs(near.time - datetime.fromisoformat(first["time"])) < timedelta(
        milliseconds=1
    )
    assert any(SUN in point.description for point in read.waypoints)


def test_kml_as_another_reader_sees_it(found):
    from fastkml import KML

    read = KML.from_string(as_kml.export(answer(found)).encode())
    (document_,) = read.features
    assert "invented" in document_.name
    assert SUN in document_.description
    assert len(document_.features) == 3
    for folder, event in zip(document_.features, found.events, strict=True):
        kinds = [place.geometry.geom_type for place in folder.features]
        assert kinds.count("LineString") == 3
        assert kinds.count("Polygon") == 1
        line = next(one for one in folder.features if one.name == "centre line")
        first = next(iter(line.geometry.coords))
        lon, lat = event.details["strip"]["centre"][0]
        assert first[:2] == pytest.approx((lon, lat), abs=1e-6)


def test_files_without_strips_have_the_place_of_the_site(services):
    bare = find(services, Wanted(until=UNTIL))
    read = geojson.loads(as_geojson.export(answer(bare)))
    (feature,) = read["features"]
    assert feature["geometry"]["coordinates"] == pytest.approx([-2.4, 41.0])
    assert len(gpxpy.parse(as_gpx.export(answer(bare))).waypoints) == 1


def test_files_of_nothing_are_whole_and_keep_the_caution(services):
    none = replace(find(services, Wanted(until=UNTIL)), events=())
    read = geojson.loads(as_geojson.export(answer(none)))
    assert read["features"] == []
    assert SUN in read["description"]
    assert gpxpy.parse(as_gpx.export(answer(none))).waypoints == []
    assert "Document" in as_kml.export(answer(none))


def test_harmful_names_do_not_break_the_files(found):
    odd = replace(found.events[0], subject="A<b>&\x00\x1b[31m \"'" + "x" * 400)
    given = answer(found, items=(odd,))
    assert gpxpy.parse(as_gpx.export(given)).tracks
    for export in (as_geojson.export, as_kml.export, as_gpx.export):
        text = export(given)
        assert "\x1b" not in text
        assert "\x00" not in text


longitude_runs = st.lists(st.floats(-8.0, 8.0), min_size=2, max_size=12)


@given(st.floats(-180.0, 180.0), longitude_runs)
def test_lines_are_cut_where_they_pass_the_date_line(start, steps):
    line, longitude = [], start
    for k, step in enumerate(steps):
        longitude += step
        line.append([(longitude + 180.0) % 360.0 - 180.0, float(k)])
    pieces = cut_line(line)
    for piece in pieces:
        assert all(-180.0 <= x <= 180.0 for x, _ in piece)
        assert all(abs(b[0] - a[0]) <= 16.0 for a, b in zip(piece, piece[1:]))  # noqa: B905, RUF007
    climbed = sum(piece[-1][1] - piece[0][1] for piece in pieces)
    assert climbed == pytest.approx(len(line) - 1.0)


def test_rings_are_cut_in_two_at_the_date_line():
    ring = [[179.0, 0.0], [-179.0, 0.0], [-179.0, 2.0], [179.0, 2.0], [179.0, 0.0]]
    rings = cut_ring(ring)
    assert len(rings) == 2
    areas = [
        sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(one, one[1:]))  # noqa: B905, RUF007
        for one in rings
    ]
    assert areas == pytest.approx([4.0, 4.0])
    whole = cut_ring([[0.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, 0.0], [0.0, 0.0]])
    assert len(whole) == 1


def test_whoever_drives_somewhere_sees_only_what_was_listed(services):
    """Transits from places drawn within reach, each searched for by itself."""
    start, end = services.clock(), datetime(2029, 3, 30, tzinfo=UTC)
    whole = find(services, Wanted(reach_km=100.0, until=end, bodies=("moon", "sun")))
    rng = np.random.default_rng(5)
    catalogue = services.catalogue(Span(start=start, end=end), ("80001",))
    seen = 0
    listed = {event.id: event.details["strip"] for event in whole.events}
    points = [
        (point["latitude_deg"], point["longitude_deg"])
        for lines in listed.values()
        for point in (lines["way_points"][3], lines["way_points"][-4])
    ]
    drawn = np.array([41.0, -2.4]) + rng.uniform(-0.6, 0.6, (8, 2))
    for latitude, longitude in (*points, *drawn.tolist()):
        place = Site(latitude_deg=latitude, longitude_deg=longitude, height_m=1150.0)
        for body in ("moon", "sun"):
            line = LineOfSight.of_body(body)
            table = search_crossings(catalogue, place, line, start, end)
            for time_s in table.closest.time_s[table.altitude_deg > 21.0]:
                when = start + timedelta(seconds=float(time_s))
                assert event_id(body, 80001, when) in listed
                seen += 1
    assert seen >= len(points)
