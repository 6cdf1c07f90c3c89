"""How closely things must agree, each with what limits it.

A test that needs a number not listed here states its reason beside the check.
"""

import math

ARCSEC = math.radians(1.0 / 3600.0)

#: A value printed to the minute says no more than half a minute either way.
PRINTED_MINUTE_S = 30.0
#: Rise and set against skyfield's own root (the project's promise).
RISE_SET_S = 1e-3
#: Sidereal angle: a straight line between hours against skyfield's own formula.
SIDEREAL_RAD = 1e-11
#: Frame rotations: a straight line between hours against skyfield's matrices.
FRAME_RAD = 1e-9
#: Sun and Moon for light and altitude: two arcseconds, 0.1 s of a rise.
SUN_MOON_RAD = 1e-5
#: Bodies behind transits: a tenth of an arcsecond, 0.1 ms of a low orbit's motion.
BODY_RAD = 0.1 * ARCSEC
#: Edges of the eclipse worked example over a sphere: another ephemeris stands behind
#: the published values (8e-6 s), and the time of the Sun is a double Julian date.
ECLIPSE_S = 5e-5
#: The same over the flattened Earth: the published values have three decimals.
ECLIPSE_POLAR_S = 1e-3
#: Airmass printed with three decimals.
PRINTED_AIRMASS = 5.1e-4
#: A hundredth printed, and half of one more where the printed value was cut.
PRINTED_HUNDREDTH = 6e-3
#: Two formulae, or formula and ray tracing, for refraction; minutes of arc.
REFRACTION_MODEL_ARCMIN = 0.12
#: What Bennett claims for his formula against integrated refraction; minutes of arc.
BENNETT_ARCMIN = 0.07
#: Rise and set against tables printed to the minute: the half minute of rounding, and
#: what two definitions of a place make (largest of 730 printed events: 34 s).
USNO_RISE_SET_S = 34.0
#: Twilights and sunsets worked to the second with the same ephemeris.
TWILIGHT_S = 1.0
#: Topocentric places printed to 0.01″: diurnal aberration (0.3″) is left out by us.
USNO_ARCSEC = 0.5
#: Half a minute of the Moon's motion along the ecliptic, with a little for rounding.
PRINTED_PHASE_DEG = 0.006
#: What part of real differences sigma (68.3 %) and the bound (95 %) of a class of 300
#: objects or more may cover, pooled over age (the project's promise).
SIGMA_COVERS = (0.60, 0.76)
BOUND_COVERS = (0.90, 0.98)
#: Entry and exit of a field against skyfield's own root (the project's promise).
CROSSING_S = 1e-3
