"""The configuration file: what it holds, and one clear line for what is wrong."""

import re
import tomllib
from math import isnan, nan
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from passes.config import Config, default_path, from_table, load, to_table
from passes.errors import ConfigError, UnknownName
from passes.model import Filter, Gain, Mount, Rig, Site, VideoMode

WHOLE = """
[defaults]
site = "ridge"
rigs = ["long"]
archive = "~/passes.sqlite"

[sites.ridge]
latitude_deg = 37.1
longitude_deg = -3
height_m = 1900
zone = "Europe/Madrid"
horizon = [[0, 12.5], [90, 3], [270, -1.0]]
sky_mag_arcsec2 = 21.6

[sites.coast]
latitude_deg = 36.7
longitude_deg = -4.4

[rigs.long]
focal_length_mm = 1500
pixel_um = 2.9
width_px = 1936
height_px = 1096
aperture_mm = 250
offset_arcmin = [-3.0, 1.5]
[[rigs.long.gains]]
name = "low"
electrons_per_adu = 0.8
read_noise_e = 1.9
full_well_e = 14000
[rigs.long.mount]
kind = "alt-azimuth"
rate_limits_deg_s = [6, 6]
follows_satellites = true

[plugins.diffuse-sphere]
table = "mine.csv"

[sources.main]
kind = "http"
url = "https://example.invalid/all.txt"
every_hours = 2
"""


@pytest.fixture
def written(tmp_path):
    """A configuration file with this text."""

    def write(text):
        file = tmp_path / "passes.toml"
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return file

    return write


def test_everything_a_file_holds_is_read(written):
    config = load(written(WHOLE))
    ridge, long = config.site("ridge"), config.rig("long")
    assert (ridge.name, ridge.latitude_deg, ridge.longitude_deg) == (
        "ridge",
        37.1,
        -3.0,
    )
    assert ridge.horizon == ((0.0, 12.5), (90.0, 3.0), (270.0, -1.0))
    assert isnan(ridge.seeing_arcsec)
    assert long.gains[0].full_well_e == 14000.0
    assert long.mount.kind == "alt-azimuth"
    assert long.mount.rate_limits_deg_s == (6.0, 6.0)
    assert config.settings("diffuse-sphere") == {"table": "mine.csv"}
    assert config.settings("nobody") == {}
    assert config.sources["main"]["every_hours"] == 2
    assert config.default_site == ridge
    assert config.defaults.rigs == ("long",)


def test_a_file_that_does_not_exist_yet_is_empty(tmp_path):
    config = load(tmp_path / "not" / "yet.toml")
    assert config.path == tmp_path / "not" / "yet.toml"
    assert not config.sites
    assert config.default_site is None


def test_without_a_home_folder_there_is_no_file(monkeypatch):
    monkeypatch.setattr(
        "platformdirs.user_config_path", lambda *a, **k: Path("~/.config")
    )
    assert default_path() is None
    assert load() == Config()


def test_the_only_site_is_the_one_meant(written):
    text = "[sites.here]\nlatitude_deg = 1\nlongitude_deg = 2\n"
    assert load(written(text)).default_site.name == "here"


def test_a_name_nobody_knows_is_answered_with_those_there_are(written):
    config = load(written(WHOLE))
    with pytest.raises(UnknownName, match="ridge, coast"):
        config.site("rigde")
    with pytest.raises(UnknownName, match="long"):
        config.rig("short")


SITE = "[sites.a]\nlatitude_deg = 1\nlongitude_deg = 2\n"
RIG = "[rigs.a]\nfocal_length_mm = 50\npixel_um = 3\nwidth_px = 100\nheight_px = 100\n"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("a = [", "at end of document"),
        ("a = 1\na = 2\n", "line 2"),
        (b"\xff\xfe", "not UTF-8 text (byte 0)"),
        ("[site.a]", "unknown section 'site'; did you mean 'sites'?"),
        ("sites = 3", "[sites]: want a table"),
        ("[sites]\na = 3", "[sites.a]: want a table"),
        ('[sites."a\\u001b"]', "cannot be typed"),
        ("[sites.a]\nlatitude_deg = 1", "'longitude_deg' is missing"),
        (SITE + "heigth_m = 3", "unknown key 'heigth_m'; did you mean 'height_m'?"),
        (SITE + "name = 'b'", "unknown key 'name'"),
        (SITE + "zone = 3", "[sites.a].zone: want text in quotes, not 3"),
        (SITE + "zone = 'Mars/Base'", "no time zone 'Mars/Base'"),
        (SITE + "zone = '../../etc/passwd'", "no time zone"),
        (SITE + "zone = ''", "no time zone"),
        (SITE + "height_m = 20000", "[sites.a]: height 20000 m is impossible"),
        (SITE + "height_m = true", ".height_m: want a number, not true"),
        (SITE + "height_m = '3'", ".height_m: want a number, not '3'"),
        (SITE + "height_m = inf", ".height_m: want a finite number"),
        (SITE + "seeing_arcsec = -1", "below zero"),
        (SITE + "horizon = 3", ".horizon: want a list, not 3"),
        (SITE + "horizon = [[0, 1, 2]]", ".horizon[0]: want 2 values, not 3"),
        (
            SITE + "horizon = [[0, 1], [361, 2]]",
            ".horizon: corner 2: azimuth 361° is impos",
        ),
        (
            SITE + "horizon = [[90, 1], [80, 2]]",
            ".horizon: corner 2: azimuth 80° is out of",
        ),
        (SITE + "horizon = [[90, 91]]", "altitude 91° is impossible"),
        (
            "[sites.a]\nlatitude_deg = 91\nlongitude_deg = 2",
            "latitude 91° is impossible",
        ),
        (RIG + "width_px = 3\n", "line 6"),
        (RIG + "colour = 1", ".colour: want true or false, not 1"),
        (RIG + "aperture_mm = 0", "aperture 0 mm is impossible"),
        (RIG + "mount = 3", ".mount: want a table, not 3"),
        (RIG + "[rigs.a.mount]\nkind = 'equatorail'", "did you mean 'equatorial'?"),
        (
            RIG + "[[rigs.a.gains]]\nname = 'x'",
            ".gains[0]: the key 'electr",
        ),
        (RIG.replace("100", "10.5"), ".width_px: want a whole number, not 10.5"),
        ("[sources.a]\nkind = 3", "[sources.a].kind: want text"),
        ("[sources.a]\nevery_hours = 0", "every_hours: want a number above zero"),
        ("[defaults]\nsite = 'a'", "[defaults].site: no site is named 'a'"),
        ("[defaults]\nrigs = ['a']", "[defaults].rigs: no rig is named 'a'"),
        ("[defaults]\ncolour = 'a'", "[defaults]: unknown key 'colour'"),
        ("a = " + "[" * 5000, "nested too deeply"),
        ("a = " + "9" * 5000, "a number of thousands of digits"),
        ("#" * 3_000_000, "KiB"),
    ],
)
def test_whatever_is_wrong_is_one_line_with_file_and_key(text, why, written):
    file = written(text)
    with pytest.raises(ConfigError) as caught:
        load(file)
    said = str(caught.value)
    assert said.startswith(f"{file}: ")
    assert why in said
    assert "\n" not in said
    assert len(said) < len(str(file)) + 320


def test_a_folder_in_its_place_is_said(tmp_path):
    with pytest.raises(ConfigError, match="cannot be read"):
        load(tmp_path)


positive = st.floats(0.1, 5000.0)
maybe = st.just(nan) | positive
names = st.text("abcde-_ éß", min_size=1, max_size=8).filter(str.strip)
sites = st.builds(
    Site,
    name=st.just("here"),
    latitude_deg=st.floats(-90, 90),
    longitude_deg=st.floats(-180, 360),
    height_m=st.floats(-500, 9000),
    zone=st.sampled_from(["UTC", "Asia/Tokyo"]),
    horizon=st.lists(st.tuples(st.floats(0, 360), st.floats(-9, 80)), max_size=3).map(
        tuple
    ),
    seeing_arcsec=st.just(nan) | st.floats(0.1, 30),
)
rigs = st.builds(
    Rig,
    name=st.just("here"),
    focal_length_mm=st.floats(1, 10_000),
    pixel_um=st.floats(0.1, 1000),
    width_px=st.integers(1, 10_000),
    height_px=st.integers(1, 10_000),
    aperture_mm=st.just(nan) | st.floats(0.5, 1000),
    rotation_deg=st.floats(-360, 360),
    gains=st.lists(
        st.builds(
            Gain,
            name=names,
            electrons_per_adu=positive,
            read_noise_e=positive,
            full_well_e=positive,
            bit_depth=st.integers(8, 16),
        ),
        max_size=2,
    ),
    filters=st.lists(
        st.builds(Filter, name=names, centre_nm=positive, width_nm=positive), max_size=2
    ),
    modes=st.lists(
        st.builds(
            VideoMode,
            name=names,
            width_px=st.integers(1, 99),
            height_px=st.integers(1, 99),
            frame_rate_hz=maybe,
            shutter=st.sampled_from(["rolling", "global", "unknown"]),
        ),
        max_size=2,
    ),
    mount=st.builds(
        Mount,
        kind=st.sampled_from(["fixed", "alt-azimuth", "equatorial"]),
        rate_limits_deg_s=st.tuples(maybe, maybe),
        shake_arcsec=maybe,
    ),
    offset_arcmin=st.tuples(st.floats(-99, 99), st.floats(-99, 99)),
)


@given(sites | rigs)
def test_a_record_written_as_toml_reads_back_as_itself(record):
    table = to_table(record, leave_out=("name",))
    parsed = tomllib.loads(tomlkit.dumps(table))
    again = from_table(type(record), parsed, "it", name="here")
    assert shown(again) == shown(record)


def shown(record):
    """A record in text: unknown numbers are not equal to themselves, zeros are."""
    return re.sub(r"-0\.0\b", "0.0", repr(record))


def test_what_stands_at_its_default_is_not_written():
    site = Site(name="a", latitude_deg=1.0, longitude_deg=2.0)
    assert to_table(site, leave_out=("name",)) == {
        "latitude_deg": 1.0,
        "longitude_deg": 2.0,
    }


@given(st.dictionaries(st.sampled_from(["sites", "rigs", "defaults", "x"]), st.none()))
def test_damage_is_never_more_than_a_config_error(tmp_path_factory, tables):
    file = tmp_path_factory.mktemp("config") / "passes.toml"
    file.write_text("\n".join(f"[{name}.a]\nb = [[1]]" for name in tables))
    if not tables:
        assert load(file).sites == {}
        return
    with pytest.raises(ConfigError):
        load(file)
