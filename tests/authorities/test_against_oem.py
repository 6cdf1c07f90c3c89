"""Ephemeris messages against an independent reader, and their frames against others."""

import re
from datetime import UTC, datetime, timedelta

import astropy.units as u
import erfa
import numpy as np
import pytest
from astropy.coordinates import GCRS, ITRS, TEME, CartesianRepresentation
from astropy.time import Time
from astropy.utils import iers
from numpy.testing import assert_allclose
from oem import OrbitEphemerisMessage

from passes import sky
from passes.ephemeris import Flight, read_messages
from passes.forecast.operators import TO_TEME

START = datetime(2025, 9, 13, 18, tzinfo=UTC)


@pytest.fixture(scope="module")
def station(fixtures):
    return fixtures / "ephemerides" / "station.oem"


def theirs_at(segment, start, seconds):
    """The other reader's places, km, at seconds from an aware time."""
    moments = [
        Time((start + timedelta(seconds=float(s))).replace(tzinfo=None), scale="utc")
        for s in seconds
    ]
    return np.array([segment(moment).position for moment in moments])


# the oem package (PyPI, MIT), an implementation of CCSDS 502.0-B of its own


@pytest.mark.parametrize("suffix", ["oem", "oem.xml"])
def test_the_same_states_as_another_reader(fixtures, tmp_path, suffix):
    text = (fixtures / "ephemerides" / f"station.{suffix}").read_text()
    # it takes one message a file, and whole covariances only
    text = text.replace("<ndm>\n", "").replace("</ndm>\n", "")
    text = re.sub("<covarianceMatrix>.*</covarianceMatrix>", "", text)
    path = tmp_path / f"station.{suffix}"
    path.write_text(text)
    (ours,) = read_messages(path.read_bytes(), path.name)
    theirs = OrbitEphemerisMessage.open(path)
    assert len(theirs.segments) == len(ours.segments) == 2
    for one, other in zip(ours.segments, theirs.segments, strict=True):
        states = list(other.states)
        assert [s.position.tolist() for s in states] == one.position_km.tolist()
        assert [s.velocity.tolist() for s in states] == one.velocity_km_s.tolist()
        assert other.metadata["OBJECT_ID"] == one.object_id


@pytest.mark.parametrize("method", ["LAGRANGE", "HERMITE"])
def test_the_same_places_between_states(station, tmp_path, method):
    text = station.read_text().replace("= LAGRANGE", f"= {method}")
    path = tmp_path / "one.oem"
    path.write_text(text)
    first = OrbitEphemerisMessage.open(path).segments[0]
    (ours,) = read_messages(text.encode(), "x")
    flight = Flight(ours.segments[:1], TO_TEME)
    at = np.random.default_rng(3).uniform(600.0, 4 * 3600.0 - 600.0, 40).round(3)
    # degree 7 is under a centimetre from the truth, whichever states are taken
    assert_allclose(
        flight.positions(START, at), theirs_at(first, START, at), rtol=0, atol=1e-5
    )


# --- frames ------------------------------------------------------------------


def test_the_bias_between_j2000_and_icrs():
    # erfa's IAU 2006 frame bias (eraBp00), another implementation
    bias = erfa.bp00(2451545.0, 0.0)[0]
    assert_allclose(sky.j2000_from_icrs(), bias, rtol=0, atol=1e-11)
    # Vallado's example 3-15 has both (his J2000 is of IAU 1976, so to a metre)
    gcrf = np.array([5102.5089579, 6123.0114007, 6378.1369282])
    j2000 = np.array([5102.5096000, 6123.0115200, 6378.1363000])
    assert np.linalg.norm(sky.j2000_from_icrs() @ gcrf - j2000) < 1e-3


@pytest.mark.parametrize("frame", ["GCRF", "EME2000", "ITRF"])
def test_frames_turn_as_astropy_turns_them(frame):
    # astropy's own chain (ERFA): TEME to GCRS to 3 mm, to ITRS to the polar motion
    # that is left out here (under 0.4″: 15 m at this distance)
    time_s = np.arange(0.0, 6 * 3600.0, 1800.0)
    angle = time_s / 1500.0
    teme = 7000.0 * np.stack(
        [np.cos(angle), np.sin(angle) * 0.6, np.sin(angle) * 0.8], axis=1
    )
    when = Time(START.replace(tzinfo=None), scale="utc") + time_s * u.s
    with iers.conf.set_temp("auto_download", False):
        place = TEME(CartesianRepresentation(teme.T * u.km), obstime=when)
        wanted = ITRS(obstime=when) if frame == "ITRF" else GCRS(obstime=when)
        there = place.transform_to(wanted).cartesian.xyz.to_value(u.km).T
    if frame == "EME2000":
        there = there @ erfa.bp00(2451545.0, 0.0)[0].T
    back = TO_TEME[frame](START, time_s) @ there[:, :, np.newaxis]
    apart = np.linalg.norm(back[:, :, 0] - teme, axis=1)
    assert apart.max() < (0.020 if frame == "ITRF" else 1e-4)
