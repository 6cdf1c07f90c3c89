"""Optics, photometry and rates of passes against handbooks and worked examples."""

import numpy as np
import pytest

from passes import atmosphere, motion, optics, sensor
from passes.constants import EARTH_MU_KM3_S2, EARTH_RADIUS_KM

#: A value printed with so many decimals is right to half of the last one.
HALF_3, HALF_4 = 5.1e-4, 5.1e-5


@pytest.mark.parametrize(
    ("pixel_um", "focal_mm", "scale"),
    # Standard formula 206.265 p/f; figures computed independently.
    [(3.76, 2000.0, 0.3878), (2.9, 2350.0, 0.2545), (5.86, 3600.0, 0.3358)],
)
def test_plate_scale(pixel_um: float, focal_mm: float, scale: float) -> None:
    found = optics.scale_arcsec_px(pixel_um, focal_mm)
    assert float(found) == pytest.approx(scale, abs=HALF_4)


@pytest.mark.parametrize(
    ("aperture_mm", "dawes", "rayleigh"),
    # Dawes' 116/D and Rayleigh's 1.22 λ/D at 550 nm, as in every handbook (formulae
    # from memory, figures computed).
    [
        (80, 1.450, 1.730),
        (102, 1.137, 1.357),
        (150, 0.773, 0.923),
        (203, 0.571, 0.682),
        (235, 0.494, 0.589),
        (279, 0.416, 0.496),
        (356, 0.326, 0.389),
    ],
)
def test_resolution(aperture_mm: float, dawes: float, rayleigh: float) -> None:
    assert float(optics.dawes_arcsec(aperture_mm)) == pytest.approx(dawes, abs=HALF_3)
    found = float(optics.rayleigh_arcsec(aperture_mm))
    assert found == pytest.approx(rayleigh, abs=HALF_3)


@pytest.mark.parametrize(("pixel_um", "f_number"), [(2.9, 10.55), (3.75, 13.64)])
def test_critical_sampling(pixel_um: float, f_number: float) -> None:
    # De Hilster 2022, dehilster.info, part 2: cut-off 1/(λN); figures computed.
    found = float(optics.critical_f_number(pixel_um))
    assert found == pytest.approx(f_number, abs=5e-3)
    cutoff = float(optics.cutoff_cycles_um(found))
    assert cutoff * pixel_um == pytest.approx(0.5)  # two pixels to a cycle


@pytest.mark.parametrize(
    ("f_number", "focal_mm", "pixel_um", "simple", "full", "rule_500"),
    # Short form and its first example: theprimecalculator.com; full form: F. Michaud
    # (coefficients from memory, printed rounded at celestialprogramming.com).
    [(4.0, 200.0, 3.75, 1.2625, None, 2.5), (2.8, 24.0, 4.3, 9.46, 4.52, 20.8)],
)
def test_star_trails(
    f_number: float,
    focal_mm: float,
    pixel_um: float,
    simple: float,
    full: float | None,
    rule_500: float,
) -> None:
    lens = (f_number, focal_mm, pixel_um)
    assert float(optics.npf_simple_s(*lens)) == pytest.approx(simple, abs=6e-3)
    if full is not None:
        assert float(optics.npf_s(*lens)) == pytest.approx(full, abs=6e-3)
    assert float(optics.rule_500_s(focal_mm)) == pytest.approx(rule_500, abs=0.04)


def test_sidereal_drift() -> None:
    # Standard: a turn in 86164.0905 s.
    turn = 360 * 3600 / 86164.0905
    assert float(optics.drift_arcsec_s(0.0)) == pytest.approx(turn, abs=HALF_4)
    half = float(optics.drift_arcsec_s(np.radians(60.0)))
    assert half == pytest.approx(turn / 2, abs=HALF_4)


@pytest.mark.parametrize(
    ("range_km", "arcsec"),
    # A station of 109 m (NASA); figures computed.
    [(400, 56.2), (420, 53.5), (500, 45.0), (600, 37.5), (800, 28.1), (1500, 15.0)],
)
def test_station_sizes(range_km: float, arcsec: float) -> None:
    found = float(optics.size_arcsec(109.0, range_km))
    assert found == pytest.approx(arcsec, abs=0.051)


@pytest.mark.parametrize(
    ("height_km", "rates"),
    # Spherical Earth, circular orbit, transverse rate v/d that ignores the Earth's
    # turning; figures computed from those formulae.
    [
        (400, {90: 1.0984, 60: 0.9605, 30: 0.5943, 20: 0.4464, 10: 0.3052}),
        (420, {90: 1.0446, 60: 0.9139, 30: 0.5670, 20: 0.4273, 10: 0.2939}),
        (550, {90: 0.7902, 60: 0.6932, 30: 0.4377, 20: 0.3359, 10: 0.2394}),
        (1200, {90: 0.3463, 60: 0.3076, 30: 0.2079, 20: 0.1692, 10: 0.1327}),
    ],
)
def test_rates_by_altitude(height_km: float, rates: dict[int, float]) -> None:
    orbit_km = EARTH_RADIUS_KM + height_km
    speed = np.sqrt(EARTH_MU_KM3_S2 / orbit_km)
    for altitude_deg, rate in rates.items():
        sine, cosine = (
            np.sin(np.radians(altitude_deg)),
            np.cos(np.radians(altitude_deg)),
        )
        level = EARTH_RADIUS_KM * cosine
        range_km = np.sqrt(orbit_km**2 - level**2) - EARTH_RADIUS_KM * sine
        line = np.array([0.0, range_km * cosine, range_km * sine])
        across = np.array([speed, 0.0, 0.0])
        found = float(np.degrees(motion.angular_speed(line, across)))
        assert found == pytest.approx(rate, abs=HALF_4)


def test_photons_of_a_star_of_magnitude_zero() -> None:
    # Bessell, Castelli & Plez 1998, table A2 (from memory): 3.631e-9 erg/s/cm²/Å at
    # 5450 Å, turned into photons independently: 996 a second, cm² and Å; 8.79e5 in V.
    energy = 6.62607015e-34 * 2.99792458e8 / 545e-9  # J a photon
    photons_cm2_a = 3.631e-9 * 1e-7 / energy
    assert photons_cm2_a == pytest.approx(996, abs=1)
    ours = sensor.PHOTONS_V0_S_M2_NM
    assert ours == pytest.approx(photons_cm2_a * 1e5, rel=1e-3)
    in_v_cm2 = float(sensor.photons_s_m2(0.0)) * 1e-4
    assert in_v_cm2 == pytest.approx(8.79e5, rel=4e-3)


def test_the_worked_photon_count() -> None:
    # Huchra's AY145 table (Bessell 1979): V 23.90 on 1 m² gives 2.42 photons a second,
    # from 3640 Jy and Δλ/λ 0.16; that zero point is 0.3 % from ours.
    found = float(sensor.photons_s_m2(23.90))
    assert found == pytest.approx(2.42, rel=6e-3)


@pytest.mark.parametrize(
    ("case", "ratio"),
    # Tests of astropy.stats.signal_to_noise_oir_ccd (the first two), and one computed
    # with the equation of Merline & Howell 1995.
    [
        ({"signal_e_s": 25.0, "exposure_s": 1.0}, 5.0),
        ({"signal_e_s": 5.0 * 5.0, "exposure_s": 1.0}, 5.0),
        (
            {
                "signal_e_s": 10.0,
                "exposure_s": 300.0,
                "pixels": 20.0,
                "background_e_s": 5.0,
                "dark_e_s": 0.01,
                "read_noise_e": 5.0,
            },
            16.3761,
        ),
    ],
)
def test_ccd_equation(case: dict[str, float], ratio: float) -> None:
    assert float(sensor.signal_to_noise(**case)) == pytest.approx(ratio, abs=HALF_4)


def test_ccd_equation_against_a_reference_library() -> None:
    stats = pytest.importorskip("astropy.stats", reason="needs astropy")
    for t, s, b, d, r, n in [
        (0.001, 4e5, 90.0, 3.0, 2.4, 12),
        (30.0, 7.0, 2.0, 0.1, 6, 9),
    ]:
        theirs = stats.signal_to_noise_oir_ccd(t, s, b, d, r, n)
        ours = sensor.signal_to_noise(s, t, n, b, d, r)
        assert float(ours) == pytest.approx(theirs, rel=1e-12)


def test_seeing_and_coherence_time() -> None:
    # FWHM = 0.98 λ/r₀: 10 cm at 500 nm gives 1.011″; t₀ = 0.314 r₀/v: 3.14 ms at
    # 10 m/s (formulae from memory, figures computed).
    assert float(optics.fried_cm(1.011)) == pytest.approx(10.0, abs=5e-3)
    assert float(optics.coherence_s(10.0, 10.0)) == pytest.approx(3.14e-3, rel=1e-12)


def test_dispersion_table() -> None:
    # Filippenko 1982 (PASP 94, 715), table as the CTIO page has it: 600 mmHg, 7 °C,
    # 8 mmHg of vapour, relative to 5000 Å.
    air = {
        "pressure_hpa": 600 * 1.333223684,
        "temperature_c": 7.0,
        "vapour_hpa": 8 * 1.333223684,
    }
    waves = [400.0, 450.0, 550.0, 600.0, 650.0]
    table = {
        1.05: [0.20, 0.08, -0.06, -0.11, -0.14],
        1.50: [0.71, 0.29, -0.21, -0.37, -0.50],
        2.00: [1.10, 0.45, -0.33, -0.58, -0.77],
    }
    for secant, row in table.items():
        altitude = np.pi / 2 - np.arccos(1 / secant)
        found = atmosphere.dispersion_arcsec(altitude, waves, **air)
        np.testing.assert_allclose(found, row, rtol=0, atol=6e-3)


def test_pupil_blur_of_a_near_object() -> None:
    # Tyson et al. 2020: an aperture of 8.4 m at 550 km blurs by 3.150″; amateur
    # apertures computed likewise.
    for aperture_mm, blur in [(8400, 3.150), (80, 0.030), (200, 0.075), (280, 0.105)]:
        found = float(optics.near_focus_blur_arcsec(aperture_mm, 550.0))
        assert found == pytest.approx(blur, abs=HALF_3)


def test_effective_magnitude_and_trail_brightness() -> None:
    # Bassa et al. 2022: m 5 crossing 1″ at 2844″/s in 300 s looks as 19.828; spread
    # over a trail 3″ wide it has 21.02 mag/arcsec² (figures computed).
    moving = float(sensor.moving_magnitude(5.0, 2844.0, 300.0, 1.0))
    assert moving == pytest.approx(19.828, abs=HALF_3)
    trail = float(sensor.trail_mag_arcsec2(5.0, 2844.0, 300.0, 3.0))
    assert trail == pytest.approx(21.02, abs=6e-3)


def test_hand_arithmetic_of_a_fixed_telescope() -> None:
    """250 mm, 0.3″ a pixel, an outline filled by 35 %, 80 µs: about 100 e⁻ a pixel.

    By hand: a station of V −3.4 at 450 km, 109 m × 73 m: 50″ × 33.5″, of which 35 %
    are 585 arcsec² or 6500 pixels.  4.9e-2 m² less a third across leaves 4.3e-2 m²;
    996 photons × 23 × 880 Å × 0.6 × 0.9 × 430 cm² × 80e-6 s make 3.7e5 electrons: 57 a
    pixel in V alone, three times that through a clear filter.
    """
    size = optics.size_arcsec([109.0, 73.0], 450.0)
    pixels = float(0.35 * size[0] * size[1] / 0.3**2)
    assert pixels == pytest.approx(6500, rel=0.02)
    area = sensor.collecting_area_m2(250.0, 0.35)
    for width_nm, expected in [(88.0, 57.0), (300.0, 195.0)]:
        flow = sensor.electrons_s(-3.4, area, width_nm, 0.6 * 0.9)
        assert float(flow) * 80e-6 / pixels == pytest.approx(expected, rel=0.05)
