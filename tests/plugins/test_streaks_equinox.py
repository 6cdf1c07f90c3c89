"""Places of other equinoxes, held against astropy's precession."""

from datetime import UTC, datetime

import numpy as np
import pytest

pytest.importorskip("passes_plugins.streaks")
from passes.errors import InputError
from passes_plugins.streaks.equinox import Equinox, equinox_of
from passes_plugins.streaks.solved import solved_frame

WHEN = datetime(2025, 9, 13, 21, 0, tzinfo=UTC)


@pytest.mark.parametrize("year", [1950.0, 2025.7, 2050.0])
def test_precession_is_astropy_s(year: float) -> None:
    """FK5 of another equinox in astropy.

    Its precession is newer: 0.3″ a century less (Capitaine et al. 2003, A&A 412, 567);
    FK5 itself is turned by 23 mas against ICRS.
    """
    coordinates = pytest.importorskip("astropy.coordinates")
    rng = np.random.default_rng(2)
    ra = rng.uniform(0.0, 360.0, 60)
    dec = np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, 60)))
    there = coordinates.SkyCoord(
        ra, dec, unit="deg", frame=coordinates.FK5(equinox=f"J{year}")
    ).icrs
    ours = coordinates.SkyCoord(*Equinox.of(year).to_icrs(ra, dec), unit="deg")
    assert ours.separation(there).arcsec.max() < 0.025 + 0.003 * abs(year - 2000.0)
    back = Equinox.of(year).from_icrs(there.ra.deg, there.dec.deg)
    assert np.allclose(back[1], dec, atol=5e-5)


@pytest.mark.parametrize(
    ("header", "year"),
    [
        ({}, None),
        ({"EQUINOX": 2000.0}, None),
        ({"EQUINOX": "J2000"}, None),
        ({"EQUINOX": 2000}, None),
        ({"EQUINOX": 2025.7}, 2025.7),
        ({"EQUINOX": "2025.70"}, 2025.7),
        ({"EQUINOX": "B1950"}, 1950.0),
        ({"EQUINOX": "JNOW"}, 2025.70),
        ({"EQUINOX": 2025.7, "RADESYS": "ICRS"}, None),
        ({"EQUINOX": ""}, None),
    ],
)
def test_what_a_header_says(header: dict[str, object], year: float | None) -> None:
    found = equinox_of(header, WHEN)
    assert (found is None) == (year is None)
    if found is not None:
        assert found.year == pytest.approx(year, abs=0.01)


@pytest.mark.parametrize("value", ["soon", 12, 1e9, -5.0, float("nan")])
def test_no_equinox(value: object) -> None:
    with pytest.raises(InputError, match="no year of an equinox"):
        equinox_of({"EQUINOX": value}, WHEN)


def test_a_solution_of_date_is_turned_to_icrs() -> None:
    fits = pytest.importorskip("astropy.io.fits")
    header = fits.Header({"NAXIS": 2, "NAXIS1": 600, "NAXIS2": 400})
    header["CTYPE1"], header["CTYPE2"] = "RA---TAN", "DEC--TAN"
    header["CRVAL1"], header["CRVAL2"] = 150.0, 40.0
    header["CRPIX1"], header["CRPIX2"] = 300.5, 200.5
    header["CD1_1"], header["CD2_2"] = -2.0 / 3600.0, 2.0 / 3600.0
    frame = solved_frame(header, Equinox.of(2025.7))
    assert frame is not None
    plain = solved_frame(header)
    assert plain is not None
    assert 0.2 < plain.away_deg(frame) < 0.4  # 50″ a year
    assert frame.solved is not None
    x, y = frame.solved(np.array([frame.ra_deg]), np.array([frame.dec_deg]))
    assert (x[0], y[0]) == pytest.approx((300.5, 200.5), abs=1e-3)
