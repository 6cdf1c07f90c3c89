"""Mean-elements messages against the standard's own example and other readers."""

import io
import json

import numpy as np
import pytest
from sgp4 import omm as sgp4_omm
from sgp4.api import Satrec

from passes.elements import ELEMENT_COLUMNS, read_text

#: The OMM example of CCSDS 502.0-B in keywords and values, GOES 9 (its figures, as
#: carried by Orekit's test data OMMExample1.txt), with days of the year as there.
GOES_9 = """\
CCSDS_OMM_VERS = 3.0
CREATION_DATE = 2007-065T16:00:00
ORIGINATOR = NOAA/USA
OBJECT_NAME = GOES 9
OBJECT_ID = 1995-025A
CENTER_NAME = EARTH
REF_FRAME = TEME
TIME_SYSTEM = UTC
MEAN_ELEMENT_THEORY = SGP/SGP4
EPOCH = 2007-064T10:34:41.4264
MEAN_MOTION = 1.00273272
ECCENTRICITY = 0.0005013
INCLINATION = 3.0539
RA_OF_ASC_NODE = 81.7939
ARG_OF_PERICENTER = 249.2363
MEAN_ANOMALY = 150.1602
GM = 398600.8
EPHEMERIS_TYPE = 0
CLASSIFICATION_TYPE = U
NORAD_CAT_ID = 23581
ELEMENT_SET_NO = 0925
REV_AT_EPOCH = 4316
BSTAR = 0.0001
MEAN_MOTION_DOT = -0.00000113
MEAN_MOTION_DDOT = 0.0
"""
FIELDS = dict(line.split(" = ") for line in GOES_9.splitlines())
BODY = {key: value for key, value in FIELDS.items() if key != "CCSDS_OMM_VERS"}
LEAVES = "".join(f"<{key}>{value}</{key}>" for key, value in BODY.items())
IN_ALL_FORMS = {
    "KVN": GOES_9,
    "JSON": json.dumps([BODY]),
    "CSV": f"{','.join(BODY)}\n{','.join(BODY.values())}\n",
    "XML": f'<omm id="CCSDS_OMM_VERS" version="3.0">{LEAVES}</omm>',
}


@pytest.mark.parametrize("form", IN_ALL_FORMS)
def test_the_standards_example_in_every_form(form):
    reading = read_text(IN_ALL_FORMS[form])
    assert reading.rejected == ()
    assert reading.files[0].form == f"OMM as {form}"
    (found,) = reading.catalogue
    (want,) = read_text(IN_ALL_FORMS["JSON"]).catalogue
    assert (found.name, found.designator) == ("GOES 9", "1995-025A")
    assert found.catalog_number == 23581
    assert reading.catalogue.details == ((925, 4316, "U"),)
    for column in ELEMENT_COLUMNS:
        assert getattr(found, column) == getattr(want, column)
    # SGP4 (WGS 72) at epoch, computed with the sgp4 package from the same set written
    # as two lines; printed to 1e-6 km
    satrec = reading.catalogue.satrec(0)
    error, position, _ = satrec.sgp4(found.epoch_jd, found.epoch_fraction)
    assert error == 0
    want_km = [-21838.503102, 36060.979982, 1415.309718]
    np.testing.assert_allclose(position, want_km, rtol=0, atol=1e-6)


def test_covariances_and_remarks_are_passed_over():
    # the second example has a covariance and remarks (Orekit OMMExample2); keywords
    # of CCSDS 502.0-B, the values here are invented
    text = GOES_9.replace(
        "BSTAR = 0.0001",
        "COMMENT invented covariance\nCOV_REF_FRAME = TEME\nCX_X = .316 [km**2]\n"
        "CY_X = .722 [km**2]\nBSTAR = 0.0001 [1/ER]",
    )
    reading = read_text(text)
    assert reading.rejected == ()
    assert reading.catalogue.bstar.tolist() == [0.0001]


def test_leading_dots_and_units():
    # as in the STARLETTE example (Orekit OMMExample4): ECCENTRICITY .0205751,
    # BSTAR -.47102E-5
    text = GOES_9.replace("0.0005013", ".0205751").replace("0.0001", "-.47102E-5")
    text = text.replace("1.00273272", "1.00273272 [rev/day]")
    (found,) = read_text(text).catalogue
    assert found.eccentricity == 0.0205751
    assert found.bstar == -4.7102e-6


#: One set of the ISS as the provider publishes it in three formats (skyfield's
#: documentation, "Earth Satellites"): numbers of its JSON and CSV.
STATION = {
    "OBJECT_NAME": "ISS (ZARYA)",
    "OBJECT_ID": "1998-067A",
    "EPOCH": "2024-05-06T19:53:04.999776",
    "MEAN_MOTION": "15.50957674",
    "ECCENTRICITY": ".000358",
    "INCLINATION": "51.6393",
    "RA_OF_ASC_NODE": "160.4574",
    "ARG_OF_PERICENTER": "140.6673",
    "MEAN_ANOMALY": "205.725",
    "EPHEMERIS_TYPE": "0",
    "CLASSIFICATION_TYPE": "U",
    "NORAD_CAT_ID": "25544",
    "ELEMENT_SET_NO": "999",
    "REV_AT_EPOCH": "45212",
    "BSTAR": ".2731E-3",
    "MEAN_MOTION_DOT": ".15698E-3",
    "MEAN_MOTION_DDOT": "0",
}
STATION_LINES = (
    "1 25544U 98067A   24127.82853009  .00015698  00000+0  27310-3 0  9995",
    "2 25544  51.6393 160.4574 0003580 140.6673 205.7250 15.50957674452123",
)


def test_one_set_in_three_formats():
    table = f"{','.join(STATION)}\n{','.join(STATION.values())}\n"
    readings = [
        read_text("\n".join(STATION_LINES)),
        read_text(json.dumps(STATION)),
        read_text(table),
    ]
    lines, record, row = (reading.catalogue for reading in readings)
    assert [reading.rejected for reading in readings] == [()] * 3
    for column in ELEMENT_COLUMNS:
        assert getattr(record, column) == getattr(row, column)
        np.testing.assert_allclose(
            getattr(record, column), getattr(lines, column), rtol=1e-14, atol=0
        )


def satrec_of(fields):
    satrec = Satrec()
    sgp4_omm.initialize(satrec, fields)
    return satrec


@pytest.mark.parametrize(
    ("name", "parse"),
    [("six.csv", sgp4_omm.parse_csv), ("six.xml", sgp4_omm.parse_xml)],
)
def test_other_readers_read_the_same(fixtures, name, parse):
    # the sgp4 package's own readers of CSV and XML
    text = (fixtures / "elements" / "readers" / name).read_text()
    want = [satrec_of(fields) for fields in parse(io.StringIO(text))]
    found = read_text(text).catalogue
    assert len(found) == len(want) == 6
    for ours, theirs in (
        ("catalog_number", "satnum"),
        ("epoch_jd", "jdsatepoch"),
        ("inclination_rad", "inclo"),
        ("raan_rad", "nodeo"),
        ("eccentricity", "ecco"),
        ("argument_rad", "argpo"),
        ("mean_anomaly_rad", "mo"),
        ("mean_motion_rad_min", "no_kozai"),
        ("bstar", "bstar"),
        ("ndot", "ndot"),
        ("nddot", "nddot"),
    ):
        values = [getattr(satrec, theirs) for satrec in want]
        np.testing.assert_array_equal(getattr(found, ours), values, err_msg=ours)
