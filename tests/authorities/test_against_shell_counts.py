"""How many objects of an even shell stand above an altitude, against geometry.

A shell evenly filled shows ½(1 − cos λ) of its objects above an altitude e, with
cos(λ + e) = R cos e / (R + h): at 550 km 0.03969, 0.01694 and 0.00387 above 0°, 10° and
30°; at 1200 km 0.07918, 0.04329 and 0.01322 (spherical geometry, arithmetic).
"""

from datetime import UTC, datetime

import numpy as np
import pytest

from passes import sky, vectors
from passes.elements import Catalogue
from passes.model import Site
from passes.orbits import Propagator

START = datetime(2024, 3, 20, 0, 0, tzinfo=UTC)
COUNT = 20_000


def shell(height_km: float) -> Catalogue:
    """Circular orbits whose planes point evenly in all directions."""
    rng = np.random.default_rng(11)
    axis_km = 6378.137 + height_km
    motion = np.sqrt(398600.4418 / axis_km**3) * 60.0
    zeros = np.zeros(COUNT)
    return Catalogue(
        catalog_number=np.arange(80001, 80001 + COUNT),
        name=("",) * COUNT,
        designator=("",) * COUNT,
        epoch_jd=np.full(COUNT, 2460389.5),
        epoch_fraction=zeros,
        inclination_rad=np.arccos(rng.uniform(-1.0, 1.0, COUNT)),
        raan_rad=rng.uniform(0.0, 2 * np.pi, COUNT),
        eccentricity=np.full(COUNT, 1e-6),
        argument_rad=zeros,
        mean_anomaly_rad=rng.uniform(0.0, 2 * np.pi, COUNT),
        mean_motion_rad_min=np.full(COUNT, motion),
        bstar=zeros,
        ndot=zeros,
        nddot=zeros,
    )


@pytest.mark.parametrize(
    ("height_km", "shares"),
    [
        (550.0, {0.0: 0.03969, 10.0: 0.01694, 30.0: 0.00387}),
        (1200.0, {0.0: 0.07918, 10.0: 0.04329, 30.0: 0.01322}),
    ],
)
def test_share_of_a_shell_above_an_altitude(
    height_km: float, shares: dict[float, float]
) -> None:
    catalogue = shell(height_km)
    time_s = np.zeros(1)
    rows = np.arange(COUNT)
    position, _, error = Propagator(catalogue, START).many(rows, time_s)
    assert not error.any()
    above = []
    for longitude in np.arange(0.0, 360.0, 30.0):  # twelve sites share the chance
        site = Site(latitude_deg=0.0, longitude_deg=float(longitude))
        away = position[:, 0] - sky.site_teme_km(site, START, time_s)
        turned = vectors.rotate_z(away, -sky.gmst_rad(START, time_s))
        local = vectors.apply(sky.site_axes(site), turned)
        above.append(np.degrees(np.arcsin(local[:, 2] / vectors.norm(local))))
    altitude = np.stack(above)
    for limit, share in shares.items():
        found = float((altitude > limit).mean())
        scatter = np.sqrt(share / COUNT / 4.0)  # sites overlap: a third of them count
        assert found == pytest.approx(share, abs=4.0 * scatter)
