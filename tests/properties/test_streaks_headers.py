"""Whatever stands in a header, a file is used or refused in one line."""

import warnings
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

pytest.importorskip("astropy")
pytest.importorskip("passes_plugins.streaks")
from passes import testing as kit
from passes_plugins.streaks.from_files import recorded

KEYS = (
    *("DATE-OBS", "DATE-BEG", "DATE-END", "TIMESYS", "EXPTIME", "XPOSURE", "MJD-OBS"),
    *("RA", "DEC", "OBJCTRA", "OBJCTDEC", "FILTER", "GAIN", "OBJECT", "IMAGETYP"),
    *("XPIXSZ", "FOCALLEN", "APTDIA", "EGAIN", "SITELAT", "SITELONG", "XBINNING"),
    *("CTYPE1", "CTYPE2", "CRVAL1", "CRVAL2", "CRPIX1", "CD1_1", "CD2_2", "A_ORDER"),
    *("NAXIS1", "NAXIS2", "BITPIX", "OBSGEO-B", "OBSGEO-L", "LONPOLE", "CUNIT1"),
)
WORDS = st.sampled_from(
    [
        *(
            "2029-03-17T20:00:00",
            "2029-03-17",
            "24:00:00",
            "TAI",
            "LOCAL",
            "-5",
            "1e400",
        ),
        *(
            "RA---TAN",
            "DEC--TAN",
            "RA---TAN-SIP",
            "09 55 40",
            "-99 99 99",
            "dark",
            "''",
        ),
    ]
)
VALUES = st.one_of(
    WORDS.map(lambda word: f"'{word}'"),
    st.integers(-(10**9), 10**9).map(str),
    st.floats(-1e12, 1e12).map(lambda value: f"{value:.6G}"),
    st.sampled_from(["T", "F", "", "NaN", "18x.0", "'open", "(1,2)"]),
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=14))
def test_a_header_is_used_or_refused(
    fixtures: Path, tmp_path: Path, cards: dict[str, str]
) -> None:
    whole = (fixtures / "fits" / "03-distorted.fits").read_bytes()
    header, data = whole[: 2880 * 2], whole[2880 * 2 :]
    lines = [header[i : i + 80] for i in range(0, len(header), 80)]
    for key, value in cards.items():
        card = f"{key:<8}= {value:>20}".encode()[:80].ljust(80)
        same = [i for i, one in enumerate(lines) if one[:8] == card[:8]]
        empty = [i for i, one in enumerate(lines) if not one.strip()]
        lines[(same or empty)[0]] = card
    path = tmp_path / "one.fits"
    path.write_bytes(b"".join(lines) + data)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = recorded([str(path)], kit.FakeServices(), rig=None, site_named=True)
    used = len(found.session.subs)
    assert used == 1 or len(found.complaints) >= 1
    assert all("\n" not in line for line in found.complaints)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    cut=st.integers(0, 11_520), at=st.integers(0, 5_000), junk=st.binary(max_size=99)
)
def test_a_damaged_file_is_used_or_refused(
    fixtures: Path, tmp_path: Path, cut: int, at: int, junk: bytes
) -> None:
    content = bytearray((fixtures / "fits" / "05-tiles.fits.fz").read_bytes()[:cut])
    content[at : at + len(junk)] = junk
    path = tmp_path / "one.fits"
    path.write_bytes(bytes(content))
    found: Any = recorded([str(path)], kit.FakeServices(), rig=None, site_named=True)
    assert len(found.session.subs) == 1 or len(found.complaints) == 1
    assert all("\n" not in line for line in found.complaints)
