"""Numbers of nature and of convention, each with its unit and its source."""

import math

#: Equatorial radius of the WGS 84 ellipsoid, km (NIMA TR8350.2).
EARTH_RADIUS_KM = 6378.137
#: Flattening of the WGS 84 ellipsoid (NIMA TR8350.2).
EARTH_FLATTENING = 1 / 298.257223563
#: Gravitational parameter of the Earth, km³/s² (EGM-96).
EARTH_MU_KM3_S2 = 398600.4418
#: Radius of the Sun, km (nominal: IAU 2015 Resolution B3 gives 695 700; the
#: value of the eclipse literature, which the published worked example uses).
SUN_RADIUS_KM = 696000.0
#: Mean radius of the Moon, km (IAU Working Group on Cartographic Coordinates).
MOON_RADIUS_KM = 1737.4
#: Astronomical unit, km (IAU 2012 Resolution B2, exact).
AU_KM = 149597870.7
#: Speed of light, km/s (SI, exact).
LIGHT_SPEED_KM_S = 299792.458
#: Mean rotation of the Earth relative to the stars, rad/s (IERS Conventions 2010).
EARTH_ROTATION_RAD_S = 7.292115e-5
SECONDS_PER_DAY = 86400.0
ARCSEC_PER_RAD = 180.0 * 3600.0 / math.pi
ARCMIN_PER_RAD = 180.0 * 60.0 / math.pi
