"""Caveats: why a number deserves less trust."""

from enum import IntFlag, auto


class Flags(IntFlag):
    """Why a number deserves less trust; a bit means the same everywhere.

    In records and JSON a flag is its lower-case name.
    """

    NONE = 0
    #: Already above the limit when the window opens: no rise is known.
    UP_AT_START = auto()
    #: Still above the limit when the window closes: no set is known.
    UP_AT_END = auto()
    #: The highest moment lies outside the window.
    CULMINATES_OUTSIDE = auto()
    #: SGP4 refuses the object part-way; the pass is cut at the failure.
    ENDS_IN_FAILURE = auto()
    #: The epoch is more than a week from the pass.
    STALE_ELEMENTS = auto()
    #: Sigma and bound are a class value, not fitted to this object.
    CLASS_SIGMA = auto()
    #: Brightness rests on a class average.
    CLASS_MAGNITUDE = auto()
    #: The brightness model failed; class averages stand in.
    MODEL_FAILED = auto()
    #: The orbit sinks so fast that times may be minutes off.
    DECAYING = auto()
    #: Elements change over to or from an operator's ephemeris inside.
    CHANGE_OVER = auto()
    #: The object is known to manoeuvre.
    MANOEUVRES = auto()
    #: A measured lateness was applied.
    LATENESS_APPLIED = auto()
    #: Already in the field when the window opens: no entry is known.
    IN_FIELD_AT_START = auto()
    #: Still in the field when the window closes: no exit is known.
    IN_FIELD_AT_END = auto()
    #: Comes up over the horizon inside the field: the crossing begins there.
    RISES_IN_FIELD = auto()
    #: Goes down behind the horizon inside the field: the crossing ends there.
    SETS_IN_FIELD = auto()

    @property
    def names(self) -> tuple[str, ...]:
        """The flags set, as the words used in JSON."""
        return tuple(flag.name.lower() for flag in Flags if flag in self and flag.name)
