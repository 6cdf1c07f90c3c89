"""Element sets out: two-line text and orbit mean-elements messages.

What was read from two-line text comes out the same to the last character, but for the
sign of an exponent of zero (``00000+0`` here, ``00000-0`` in some sources).  A message
gives back every number, the epoch and the mean motion but for their last bit: there
the published forms of two-line text and of messages are divided in another order.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from math import pi
from operator import attrgetter
from typing import Any

import numpy as np

from passes.elements import tle_grid as grid
from passes.elements.catalogue import LAST_ALPHA5, UNIX_EPOCH_JD, Catalogue, Floats
from passes.elements.tle_lines import LONGEST_NAME

# The sgp4 package's own factors; see NDOT and NDDOT of Spacetrack Report 3.
_XPDOTP = 1440.0 / (2.0 * pi)
_RADIANS = pi / 180.0
_NDOT_UNITS = 1036800.0 / pi
_NDDOT_UNITS = 2985984000.0 / 2.0 / pi
_UNIX_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LONG_DESIGNATOR = re.compile(r"(\d\d)(\d\d)-(\d{3}[A-Z]{1,3})")
#: What stands in a set that nobody numbered: set number, revolution, classification.
UNNUMBERED = (0, 0, "U")
#: The years that two digits can say (see :data:`passes.elements.tle.YEAR_PIVOT`).
_YEARS = range(1957, 2057)
#: What no name begins with: the marks of a name line, of the two, and of a remark.
_NO_NAMES = ("0 ", "1 ", "2 ", "#")
#: A number with one digit for its power of ten is below this.
_LARGEST_POWER = 0.999994e9
_FASTEST_REV_DAY = 99.99999999

Details = tuple[int, int, str]
_PARSED = attrgetter("elnum", "revnum", "classification")


def details_of(catalogue: Catalogue) -> list[Details]:
    """Set number, revolution at the epoch and classification of every row."""
    if catalogue.details:
        return list(catalogue.details)
    if None in catalogue.satrecs:
        return [details_in(satrec) for satrec in catalogue.satrecs]
    return [(s, r, c.strip() or "U") for s, r, c in map(_PARSED, catalogue.satrecs)]


def details_in(satrec: Any) -> Details:
    """The same of one SGP4 record that a parser of two-line text has made."""
    if satrec is None:
        return UNNUMBERED
    set_number, revolution, classification = _PARSED(satrec)
    return set_number, revolution, classification.strip() or "U"


def fits_tle(catalogue: Catalogue) -> np.ndarray:
    """Which rows two lines can hold ``(n,)``: number, year and powers of ten fit.

    So must the mean motion, of two digits before its point.
    """
    years = (catalogue.epoch_jd - UNIX_EPOCH_JD).astype("datetime64[D]")
    year = years.astype("datetime64[Y]").astype(int) + 1970
    in_years = (year >= _YEARS.start) & (year < _YEARS.stop)
    drag = np.maximum(np.abs(catalogue.bstar), np.abs(catalogue.nddot * _NDDOT_UNITS))
    numbered = catalogue.catalog_number <= LAST_ALPHA5
    slow = catalogue.mean_motion_rad_min * _XPDOTP < _FASTEST_REV_DAY
    return np.asarray(in_years & numbered & slow & (drag < _LARGEST_POWER))


def tle_text(catalogue: Catalogue) -> str:
    """Every row as a name line (where there is a name) and its two lines.

    Digits beyond those of the format are rounded, names cut to :data:`LONGEST_NAME`;
    one that would be taken for something else is marked as a name by ``0``.
    ValueError for a row that does not fit (:func:`fits_tle`).
    """
    if not fits_tle(catalogue).all():
        raise ValueError("some element sets do not fit two lines")
    lines: list[str] = []
    for row, details in enumerate(details_of(catalogue)):
        if catalogue.name[row]:
            lines.append(_name_line(catalogue.name[row]))
        lines += tle_lines(catalogue, row, details)
    return "".join(f"{line}\n" for line in lines)


def _name_line(name: str) -> str:
    """A name as long as readers take it, that none takes for a line or a remark."""
    marked = f"0 {name}" if name.startswith(_NO_NAMES) else name
    return marked.encode()[:LONGEST_NAME].decode("utf-8", "ignore")


def tle_lines(catalogue: Catalogue, row: int, details: Details) -> tuple[str, str]:
    """The two lines of one row."""
    c, (set_number, revolution, classification) = catalogue, details
    number = _number(int(c.catalog_number[row]))
    letter = classification[:1] if classification.isascii() else UNNUMBERED[2]
    first = (
        f"1 {number}{letter} {_designator(c.designator[row]):8} "
        f"{_epoch(float(c.epoch_jd[row]), float(c.epoch_fraction[row]))} "
        f"{_slope(float(c.ndot[row]) * _NDOT_UNITS)} "
        f"{_power(float(c.nddot[row]) * _NDDOT_UNITS)} {_power(float(c.bstar[row]))} "
        f"0 {set_number % 10000:4d}"
    )
    second = (
        f"2 {number} {_angle(c.inclination_rad[row])} {_angle(c.raan_rad[row])} "
        f"{min(round(float(c.eccentricity[row]) * 1e7), 9999999):07d} "
        f"{_angle(c.argument_rad[row])} {_angle(c.mean_anomaly_rad[row])} "
        f"{float(c.mean_motion_rad_min[row]) * _XPDOTP:11.8f}{revolution % 100000:5d}"
    )
    sums = grid.checksums([f"{first:69}", f"{second:69}"])
    return f"{first}{sums[0]}", f"{second}{sums[1]}"


def _number(number: int) -> str:
    if number < 100_000:
        return f"{number:05d}"
    return f"{grid.ALPHA5[number // 10_000 - 10]}{number % 10_000:04d}"


def _designator(designator: str) -> str:
    match = _LONG_DESIGNATOR.fullmatch(designator)
    if match:
        return match[2] + match[3]
    return designator[:8] if designator.isascii() else ""


def _epoch(days: float, fraction: float) -> str:
    """Two digits of the year, and the day of the year with eight decimals."""
    units = round((days - UNIX_EPOCH_JD + fraction) % 1.0 * 1e8)
    whole = int((days - UNIX_EPOCH_JD + fraction) // 1.0) + units // 10**8
    day = _UNIX_EPOCH + timedelta(days=whole)
    return f"{day:%y%j}.{units % 10**8:08d}"


def _angle(angle_rad: float) -> str:
    angle_deg = float(angle_rad) / _RADIANS
    if not -99.9999 <= angle_deg <= 999.9999:  # messages may count on and on
        angle_deg %= 360.0
    return f"{angle_deg:8.4f}"


def _slope(value: float) -> str:
    """A first derivative: sign, point, eight digits."""
    units = min(round(abs(value) * 1e8), 99_999_999)
    return f"{'-' if value < 0 and units else ' '}.{units:08d}"


def _power(value: float) -> str:
    """Five digits behind an implied point, and one of a power of ten."""
    text = f"{abs(value):.4e}"
    digits, exponent = text[0] + text[2:6], int(text[7:]) + 1
    if value == 0.0 or exponent < -9:
        return " 00000+0"
    return f"{'-' if value < 0 else ' '}{digits}{exponent:+d}"


# --- messages ------------------------------------------------------------------


def omm_records(catalogue: Catalogue) -> Iterator[dict[str, Any]]:
    """Every row as the keywords of an orbit mean-elements message."""
    c = catalogue
    columns = {
        "MEAN_MOTION": _tidy(c.mean_motion_rad_min, 8, _to_rev_day, _from_rev_day),
        "ECCENTRICITY": c.eccentricity,
        "INCLINATION": _degrees(c.inclination_rad),
        "RA_OF_ASC_NODE": _degrees(c.raan_rad),
        "ARG_OF_PERICENTER": _degrees(c.argument_rad),
        "MEAN_ANOMALY": _degrees(c.mean_anomaly_rad),
        "BSTAR": c.bstar,
        "MEAN_MOTION_DOT": _scaled(c.ndot, 8, _NDOT_UNITS),
        "MEAN_MOTION_DDOT": _scaled(c.nddot, 13, _NDDOT_UNITS),
    }
    values = {key: column.tolist() for key, column in columns.items()}
    for row, (set_number, revolution, classification) in enumerate(details_of(c)):
        yield {
            "OBJECT_NAME": c.name[row],
            "OBJECT_ID": c.designator[row],
            "EPOCH": c[row].epoch.strftime("%Y-%m-%dT%H:%M:%S.%f"),
            **{key: column[row] for key, column in values.items()},
            "EPHEMERIS_TYPE": 0,
            "CLASSIFICATION_TYPE": classification,
            "NORAD_CAT_ID": int(c.catalog_number[row]),
            "ELEMENT_SET_NO": set_number,
            "REV_AT_EPOCH": revolution,
            "CENTER_NAME": "EARTH",
            "REF_FRAME": "TEME",
            "TIME_SYSTEM": "UTC",
            "MEAN_ELEMENT_THEORY": "SGP4",
        }


def omm_text(catalogue: Catalogue) -> bytes:
    """Every row as one list of messages in JSON, a message a line."""
    import orjson

    text = bytearray(b"[")  # one buffer: each record's own keeps far more than its text
    for record in omm_records(catalogue):
        if len(text) > 1:
            text += b",\n"
        text += orjson.dumps(record)
    return bytes(text + b"]\n")


def _tidy(values: Floats, digits: int, there: Any, back: Any) -> Floats:
    """Values in published units, rounded where that loses no bit on the way back."""
    published = there(values)
    rounded = np.round(published, digits)
    return np.asarray(np.where(back(rounded) == values, rounded, published))


def _to_rev_day(motion: Floats) -> Floats:
    return motion / pi * 720.0


def _from_rev_day(motion: Floats) -> Floats:
    return motion / 720.0 * pi


def _degrees(angle_rad: Floats) -> Floats:
    return _tidy(angle_rad, 4, lambda a: a / _RADIANS, lambda a: a * _RADIANS)


def _scaled(values: Floats, digits: int, units: float) -> Floats:
    return _tidy(values, digits, lambda v: v * units, lambda v: v / units)
