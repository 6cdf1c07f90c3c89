"""Passes from an ephemeris of SGP4's states are those from the elements.

The states are skyfield's, in every frame, a minute apart; skyfield is another
implementation of the frames.
"""

from datetime import timedelta

import flights
import numpy as np
import pytest
from one_satellite import timescale
from skyfield.api import EarthSatellite

from passes.elements import read, tle_text
from passes.model import Site

TIME_S = np.arange(-3600.0, 12 * 3600.0, 60.0)

#: Rises and sets agree to this: what the interpolation of states and of curves miss,
#: as 7.5 km/s fly it.
EQUAL_S = 1e-3


@pytest.fixture(scope="module")
def by_elements():
    return flights.services(objects=("80001",)).passes()


@pytest.mark.parametrize(
    ("frame", "method", "degree"),
    [
        ("TEME", "LAGRANGE", 7),
        ("GCRF", "LAGRANGE", 9),
        ("EME2000", "HERMITE", 7),
        ("ITRF", "LAGRANGE", 9),
    ],
)
def test_passes_are_those_of_the_elements(tmp_path, by_elements, frame, method, degree):
    place, velocity = flights.states(frame, TIME_S)
    text = flights.message(
        TIME_S, place, velocity, frame=frame, method=method, degree=degree
    )
    path = flights.written(tmp_path, text)
    found = flights.services(objects=("80001",), ephemeris_files=(path,)).passes()
    assert len(found) == len(by_elements) >= 6
    assert found.table.catalogue.ephemerides  # or nothing was tried
    for ours, theirs in zip(found, by_elements, strict=True):
        assert ours.id == theirs.id
        for name in ("rise", "culmination", "set"):
            one, other = getattr(ours, name), getattr(theirs, name)
            assert abs((one.time - other.time).total_seconds()) < EQUAL_S
            assert one.altitude_deg == pytest.approx(other.altitude_deg, abs=2e-4)
            assert one.azimuth_deg == pytest.approx(other.azimuth_deg, abs=2e-4)
        for one, other in zip(ours.sunlit, theirs.sunlit, strict=True):
            assert abs((one.end - other.end).total_seconds()) < 0.05
        # trusted by what its operator foresees, six hours and more after it was made
        assert 0.25 < ours.element_age_days < 0.7
        assert ours.timing_sigma_s == pytest.approx(
            np.hypot(0.1, 0.15 * ours.element_age_days)
        )
        assert "change_over" not in ours.flags
        assert "class_sigma" not in ours.flags


def test_a_real_station_as_its_operator_would_publish_it(real_data, tmp_path):
    # real elements of the ISS, 2025-09-13; states by skyfield every four minutes, in
    # EME2000, through polynomials of degree 9
    catalogue = read([real_data / "active_2025-09-13.tle.gz"]).catalogue
    row = catalogue.catalog_number.tolist().index(25544)
    elements = tmp_path / "iss.tle"
    elements.write_text(tle_text(catalogue.take([row])))
    time_s = np.arange(-3600.0, 26 * 3600.0, 240.0)
    of = EarthSatellite.from_satrec(catalogue.satrec(row), timescale())
    place, velocity = flights.states("EME2000", time_s, of=of)
    path = flights.written(
        tmp_path,
        flights.message(
            time_s,
            place,
            velocity,
            frame="EME2000",
            name="ISS",
            object_id="1998-067-A",
        ),
    )
    given = {
        "element_files": (str(elements),),
        "site": Site(name="invented", latitude_deg=37.1, longitude_deg=-3.4),
        "end": flights.START + timedelta(hours=24),
    }
    plain = flights.services(**given).passes()
    found = flights.services(**given, ephemeris_files=(path,)).passes()
    assert found.table.catalogue.ephemerides
    assert len(found) == len(plain) >= 4
    for ours, theirs in zip(found, plain, strict=True):
        assert ours.id == theirs.id
        for name in ("rise", "culmination", "set"):
            one, other = getattr(ours, name), getattr(theirs, name)
            assert abs((one.time - other.time).total_seconds()) < EQUAL_S
