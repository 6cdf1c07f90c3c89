"""Small sound files that fuzzing begins with, where no fixture is one."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
FIXTURES, DEMO = ROOT / "fixtures", ROOT / "passes" / "data" / "demo"

CONFIG = b"""
[sources.club]
kind = "web-source"
url = "https://example.org/sets.txt"
every_hours = 4
tries = 3
wait_s = 2.5

[plugins.streaks]
clean_below = 0.3
least_subs = 10

[plugins.imaging]
fill = 0.7
mount = "follow"
keep_glints = true

[plugins.scheduling]
lead_s = 10

[defaults]
site = "quillmoor"
rigs = ["long"]
archive = "~/sets.sqlite"
brightness = "diffuse-sphere"
"""
SMALL_CONFIG = b"""
[sites.hill]
latitude_deg = 41
longitude_deg = -2.4
"""
PLAN = b"""
[session]
site = "quillmoor"
rig = "field"
start = "2029-03-17T21:00:00+01:00"
[[target]]
name = "one"
ra_deg = "09h55m33s"
dec_deg = "+69 03 55"
[[target]]
name = "two"
ra_deg = 150
dec_deg = -12.5
position_angle_deg = 30
[overheads]
download_s = 6
dither_every = 3
settle_s = 20
focus_every_min = 60
focus_s = 90
flip_s = 120
[[group]]
target = "two"
filter = "clear"
gain = 100
exposure_s = 180
count = 12
"""
SUBS = b"""
[session]
rig = "field"
[target]
ra_deg = 150
dec_deg = -12.5
[[sub]]
start = 2029-03-17T20:00:00Z
exposure_s = 300
filter = "red"
[[sub]]
start = "2029-03-17T20:06:00Z"
exposure_s = 300
"""
STEPS = b"""\
{"id":"a-1","event":"start","time":"2029-03-17T20:15:00.250Z","subject":"TEST LAMP",\
"catalog_number":80001,"rig":"long","advice":{"exposure_s":0.002,"gain":null},"demo":true}
{"id":"a-2","event":"stop","time":"2029-03-17T21:20:00+01:00","subject":"TEST LAMP",\
"catalog_number":null,"rig":"","advice":null,"demo":false,"more":[1,2]}
"""
STATE = b"""\
{"id":"a-1","state":"intent"}
{"id":"a-1","state":"done","rehearsal":false}
{"id":"a-2","state":"skipped","rehearsal":true}
"""
GATE = b"""{"kind":"gate list","version":1,"demo":false,"plan":"0123456789abcdef",
"start":"2029-03-17T20:00:00.000Z","end":"2029-03-18T02:00:00.000Z","settle_s":20.0,
"targets":[[0.0,"one"],[9000.5,"two"]],"closed":{"one":[[60.0,75.5,"LAMP",80001,
"spoiled"],[200,210,"LAMP 2",80002,"faint"]],"two":[]}}"""
QUESTION = b"""300
{"exposure_s": 120.5, "target": "one", "time": "2029-03-17T20:15:00Z"}
{"exposure_s": 1e3, "time": "2029-03-17T20:15:00+02:00"}
"""
AREA = b"""{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},
"geometry":{"type":"Polygon","coordinates":[[[9,44],[12,44],[12,46],[9,46],[9,44]],
[[10,44.5],[11,44.5],[11,45.5],[10,44.5]]]}},{"type":"Feature","geometry":{"type":
"GeometryCollection","geometries":[{"type":"MultiPolygon","coordinates":[[[[179,-1],
[-179,-1],[-179,1],[179,-1]]]]},{"type":"Point","coordinates":[1,2]}]}}]}"""
RECEIVED = b"""\
2029-03-17T20:15:00.512Z $GPRMC,201500.00,A,4100.000,N,00224.000,W,0.0,0.0,170329,,*28
$GPGGA,201501.00,4100.0000,N,00224.0000,W,1,08,1.0,1150.0,M,51.0,M,,*40
$GPZDA,201501.00,17,03,2029,00,00*6D
"""


def of(folder: Path, *patterns: str) -> tuple[bytes, ...]:
    """The files of a folder; those without anything in them are left out."""
    found = (path for pattern in patterns for path in sorted(folder.glob(pattern)))
    return tuple(filter(None, (path.read_bytes() for path in found)))


def broken(*patterns: str) -> tuple[bytes, ...]:
    """What once broke a reader, or might have."""
    return of(FIXTURES / "broken", *patterns)


def ephemerides(pattern: str) -> tuple[bytes, ...]:
    """The operator's messages with every twelfth state: the others are alike."""
    return tuple(map(_thinned, of(FIXTURES / "ephemerides", pattern)))


def _thinned(message: bytes) -> bytes:
    lines = message.split(b"\n")
    state = re.compile(rb"\d|<stateVector")
    return b"\n".join(
        line for i, line in enumerate(lines) if i % 12 == 0 or not state.match(line)
    )
