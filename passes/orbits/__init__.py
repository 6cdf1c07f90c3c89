"""The door to propagation: SGP4 by the sgp4 package, or by heyoka where that pays."""

from passes.orbits.ephemerides import Ephemeris
from passes.orbits.fast import wanted as fast_wanted
from passes.orbits.propagator import (
    ERROR_WORDS,
    NO_EPHEMERIS,
    NO_NUMBER,
    MeanOrbits,
    Propagator,
)

__all__ = [
    "ERROR_WORDS",
    "NO_EPHEMERIS",
    "NO_NUMBER",
    "Ephemeris",
    "MeanOrbits",
    "Propagator",
    "fast_wanted",
]
