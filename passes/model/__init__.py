"""Frozen records: what the engine, the plugins and the person exchange.

Records hold what people read: degrees, kilometres, seconds, aware UTC times.
nan is unknown, a flag is a caveat.  None of them imports numpy when loaded.
"""

from passes.model.answers import (
    Advice,
    Event,
    Note,
    Picture,
    Pointing,
    Report,
    Schedule,
    Severity,
    Step,
    StepEvent,
)
from passes.model.flags import Flags
from passes.model.places import Night, Site, Span
from passes.model.rigs import Filter, Gain, Mount, Rig, VideoMode
from passes.model.sessions import Overheads, Session, Sub, Target
from passes.model.sightings import (
    TRACK_ARRAYS,
    Brightest,
    Crossing,
    FieldPoint,
    Growth,
    GrowthBasis,
    LineOfSight,
    Moment,
    Passage,
    Track,
)
from passes.renamed import former_names

__all__ = [
    "TRACK_ARRAYS",
    "Advice",
    "Brightest",
    "Crossing",
    "Event",
    "FieldPoint",
    "Filter",
    "Flags",
    "Gain",
    "Growth",
    "GrowthBasis",
    "LineOfSight",
    "Moment",
    "Mount",
    "Night",
    "Note",
    "Overheads",
    "Passage",
    "Picture",
    "Pointing",
    "Report",
    "Rig",
    "Schedule",
    "Session",
    "Severity",
    "Site",
    "Span",
    "Step",
    "StepEvent",
    "Sub",
    "Target",
    "Track",
    "VideoMode",
]

#: Former names of what this module offers, and the present ones.
FORMER: dict[str, str] = {}
__getattr__ = former_names(__name__, FORMER)
