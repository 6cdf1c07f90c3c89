"""Eclipse edges of a worked example, spherical and flattened Earth.

Source: the Orekit library's EclipseDetectorTest (testEclipse, testPenumbra,
testPolar): GCRF 1969-07-28T04:00 TT, two-body motion, μ = 398600.47 km³/s².
"""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from tolerances import ECLIPSE_POLAR_S, ECLIPSE_S

from passes import roots, shadow, sky
from passes.constants import EARTH_FLATTENING, EARTH_RADIUS_KM, SUN_RADIUS_KM
from passes.sky._door import EPOCH, ephemeris, timescale
from passes.vectors import apply

Floats = NDArray[np.float64]

MU = 398600.47
R0 = np.array([-6142.438668, 3492.467560, -25.76725680])
V0 = np.array([0.5058479685, 0.9427809215, 7.435922231])


def two_body(r0: Floats, v0: Floats, t: Floats) -> Floats:
    """Positions ``(k, 3)`` on a Kepler ellipse (Lagrange's f and g)."""
    r = np.linalg.norm(r0)
    a = 1.0 / (2.0 / r - v0 @ v0 / MU)
    n, es, ec = np.sqrt(MU / a**3), r0 @ v0 / np.sqrt(MU * a), 1.0 - r / a
    e = n * t
    for _ in range(30):
        error = e - ec * np.sin(e) + es * (1.0 - np.cos(e)) - n * t
        e = e - error / (1.0 - ec * np.cos(e) + es * np.sin(e))
    f, g = 1.0 - a / r * (1.0 - np.cos(e)), t + (np.sin(e) - e) / n
    return f[:, np.newaxis] * r0 + g[:, np.newaxis] * v0


def of_date(r0: Floats, v0: Floats) -> Callable[[Floats], tuple[Floats, Floats]]:
    """Satellite and Sun in the frame whose z axis is the Earth's."""
    begin = timescale().tt(1969, 7, 28, 4)

    def at(t: Floats) -> tuple[Floats, Floats]:
        time = timescale().tt_jd(begin.whole + 0.0 * t, begin.tt_fraction + t / 86400)
        sun = (ephemeris()["sun"] - ephemeris()["earth"]).at(time).position.km.T
        turn = sky.true_of_date_from_icrs(EPOCH, (time.tt - 2440587.5) * 86400.0)
        return apply(turn, two_body(r0, v0, t)), apply(turn, sun)

    return at


def edge(
    at: Callable[[Floats], tuple[Floats, Floats]],
    near: float,
    fraction: float,
    radius: float,
    flattening: float,
) -> float:
    """When the lit fraction passes a value, within a minute of ``near``."""

    def over(t: Floats) -> Floats:
        lit = shadow.lit_fraction(*at(t), earth_radius_km=radius, flattening=flattening)
        return lit - fraction

    return float(roots.bisect(over, [near - 8.0], [near + 8.0], 1e-7)[0])


@pytest.mark.parametrize(
    ("fraction", "published_s"),
    [(0.0, 2303.1835), (1.0, 4388.155852)],
    ids=["umbra entry", "penumbra exit"],
)
def test_edges_over_a_sphere(fraction: float, published_s: float) -> None:
    # The lit fraction leaves 0 and 1 tangentially (power 3/2), so the edge is taken a
    # hair inside: 1e-12 of the disc is 1e-7 of its width.
    inside = abs(fraction - 1e-12)
    found = edge(of_date(R0, V0), published_s, inside, 6400.0, 0.0)
    assert found == pytest.approx(published_s, abs=ECLIPSE_S)


def test_the_other_two_edges_over_a_sphere() -> None:
    # Computed independently (DE421, tangent cones), not published.
    at = of_date(R0, V0)
    assert edge(at, 2294.0, 1.0 - 1e-12, 6400.0, 0.0) == pytest.approx(
        2293.9723, abs=1e-4
    )
    assert edge(at, 4379.0, 1e-12, 6400.0, 0.0) == pytest.approx(4378.9468, abs=1e-4)


def polar() -> tuple[Floats, Floats]:
    """The same orbit with inclination 90°: turned about its line of nodes."""
    h = np.cross(R0, V0)
    node = np.cross([0.0, 0.0, 1.0], h)
    node /= np.linalg.norm(node)
    turn = np.pi / 2 - np.arccos(h[2] / np.linalg.norm(h))

    def turned(v: Floats) -> Floats:
        along = node * (node @ v) * (1.0 - np.cos(turn))
        return v * np.cos(turn) + np.cross(node, v) * np.sin(turn) + along

    return turned(R0), turned(V0)


@pytest.mark.parametrize(
    ("flattening", "entry_s", "exit_s"),
    [(0.0, 2274.702, 4317.155), (EARTH_FLATTENING, 2280.427, 4310.741)],
    ids=["sphere", "WGS 84"],
)
def test_flattening_moves_the_edges_of_a_polar_orbit(
    flattening: float, entry_s: float, exit_s: float
) -> None:
    at = of_date(*polar())
    for near in (entry_s, exit_s):
        found = edge(at, near, 1e-12, EARTH_RADIUS_KM, flattening)
        assert found == pytest.approx(near, abs=ECLIPSE_POLAR_S)


@pytest.mark.parametrize(
    ("height_km", "umbra_deg", "penumbra_deg"),
    [
        (400.0, 69.9538, 70.4869),
        (550.0, 66.7518, 67.2850),
        (780.0, 62.7392, 63.2724),
        (1200.0, 57.0506, 57.5837),
        (35786.0, 8.4364, 8.9695),
    ],
)
def test_half_arcs_of_umbra_and_penumbra(
    height_km: float, umbra_deg: float, penumbra_deg: float
) -> None:
    # Computed independently for a spherical Earth and R☉ 696 000 km: the angle at the
    # Earth's centre between the satellite and the point opposite the Sun.
    r, sun = EARTH_RADIUS_KM + height_km, np.array([149597870.7, 0.0, 0.0])

    def arc(fraction: float) -> float:
        def lit(angle: Floats) -> Floats:
            places = -r * np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=-1)
            return shadow.lit_fraction(places, sun, flattening=0.0) - fraction

        angle = roots.bisect(lit, [np.radians(5.0)], [np.radians(75.0)], 1e-12)
        return float(np.degrees(angle[0]))

    assert arc(1e-13) == pytest.approx(umbra_deg, abs=6e-5)
    assert arc(1.0 - 1e-13) == pytest.approx(penumbra_deg, abs=6e-5)


def test_the_umbra_cone_ends_where_it_should() -> None:
    # Published: the umbra is 1.3836e6 km long at one astronomical unit.
    sun = np.array([149597870.7, 0.0, 0.0])
    places = np.array([[-1.3830e6, 0.0, 0.0], [-1.3842e6, 0.0, 0.0]])
    lit = shadow.lit_fraction(places, sun, flattening=0.0, sun_radius_km=SUN_RADIUS_KM)
    assert lit[0] == 0.0
    assert lit[1] > 0.0
