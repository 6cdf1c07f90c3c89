"""Receivers' sentences held against published examples.

Sources: the GGA and RMC pair for 48°07.038′ N 11°31.000′ E is the example of receiver
manuals (from memory; the checksums are those printed with it).  The others are
sentences published with their positions by users of field instruments (a soil
conductivity package's documentation, a forum of a computing language), read there.
"""

from datetime import UTC, datetime, time

import pytest

from passes.nmea import checksum, read_nmea

MANUAL_GGA = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
MANUAL_RMC = "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A"


def test_the_example_of_the_manuals():
    received = read_nmea(f"{MANUAL_RMC}\r\n{MANUAL_GGA}\r\n")
    assert not received.problems
    fix = received.best
    assert fix.latitude_deg == pytest.approx(48.1173, abs=1e-6)
    assert fix.longitude_deg == pytest.approx(11.516667, abs=1e-6)
    assert fix.sea_level_m == 545.4
    assert fix.height_m == pytest.approx(592.3)
    assert fix.time == datetime(1994, 3, 23, 12, 35, 19, tzinfo=UTC)


@pytest.mark.parametrize(
    ("sentence", "latitude", "longitude", "height"),
    [
        (
            "$GPGGA,015808.00,2726.53758,S,15126.05255,E,1,08,1.0,365.1,M,39.5,M,,*79",
            -(27 + 26.53758 / 60),
            151 + 26.05255 / 60,
            404.6,
        ),
        (
            "$GPGGA,092204.999,4250.5589,S,14718.5084,E,1,04,24.4,19.7,M,,,,0000*1F",
            -(42 + 50.5589 / 60),
            147 + 18.5084 / 60,
            None,
        ),
        (
            "$GPGGA,000003.071,7900.56904,N,16607.52019,W,1,09,0.8,4.64,M,,,,*26",
            79 + 0.56904 / 60,
            -(166 + 7.52019 / 60),
            None,
        ),
    ],
)
def test_published_sentences(sentence, latitude, longitude, height):
    (fix,) = read_nmea(sentence).fixes
    assert fix.latitude_deg == pytest.approx(latitude, abs=1e-9)
    assert fix.longitude_deg == pytest.approx(longitude, abs=1e-9)
    if height is None:
        assert fix.height_m != fix.height_m
    else:
        assert fix.height_m == pytest.approx(height)


def test_another_kind_of_sentence_is_checked_and_passed_over():
    gsa = "$GPGSA,A,3,01,20,19,13,,,,,,,,,40.4,24.4,32.2*0A"
    received = read_nmea(gsa)
    assert (received.fixes, received.problems, received.sentences) == ((), (), 1)
    assert checksum(gsa[1:-3]) == 0x0A


def test_a_date_from_one_sentence_dates_the_next():
    later = "GPGGA,123520,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    text = f"{MANUAL_RMC}\n${later}*{checksum(later):02X}\n"
    assert read_nmea(text).fixes[-1].time == datetime(
        1994, 3, 23, 12, 35, 20, tzinfo=UTC
    )
    assert read_nmea(MANUAL_GGA).fixes[0].time is None
    assert read_nmea(MANUAL_GGA).fixes[0].clock == time(12, 35, 19, tzinfo=UTC)


def sealed(body):
    return f"${body}*{checksum(body):02X}"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (MANUAL_GGA.replace("4807", "4907"), "checksum"),
        (MANUAL_GGA[:40], "cut off"),
        (MANUAL_GGA[:-3], "without a checksum"),
        (sealed("GPGGA,123519,,,,,0,00,,,M,,M,,"), "no fix"),
        (sealed("GPRMC,123519,V,,,,,,,230394,,"), "no fix"),
        (sealed("GPGGA,123519,9107.038,N,01131.000,E,1,8,1,5,M,4,M,,"), "impossible"),
        (sealed("GPGGA,123519,4867.038,N,01131.000,E,1,8,1,5,M,4,M,,"), "impossible"),
        (sealed("GPGGA,253519,4807.038,N,01131.000,E,1,8,1,5,M,4,M,,"), "impossible"),
        (sealed("GPGGA,123519,4807.038,Q,01131.000,E,1,8,1,5,M,4,M,,"), "cannot read"),
        (sealed("GPRMC,123519,A,4807.038,N,01131.0,E,0,0,310294,,"), "date"),
        (sealed("GPGGA,1"), "too few"),
        ("$" + "A" * 5000, "too long"),
    ],
)
def test_a_bad_sentence_is_told_by_its_line(line, said):
    received = read_nmea(f"{MANUAL_GGA}\n{line}\n{MANUAL_RMC}")
    assert len(received.fixes) == 2
    ((number, reason),) = received.problems
    assert number == 2
    assert said in reason
