"""What a plugin hands over, what it is asked, and what it may ask of the host.

Every contribution has a name users type, a one-line summary, and one callable that
takes one record and returns one record, so that either side can gain a field with a
default without breaking the other.  Building a contribution does no work: no file,
no network, no heavy import.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from passes.contributions.kinds import (
    Adviser,
    BrightnessModel,
    Command,
    Contribution,
    ElementSource,
    Exporter,
    SessionReporter,
)
from passes.contributions.services import Services, Stage

if TYPE_CHECKING:
    from passes.contributions.exchange import (
        Answer,
        Briefing,
        Brightness,
        ElementBatch,
        ElementQuery,
        Illumination,
        ObjectFacts,
        SessionBriefing,
        Settings,
    )
    from passes.contributions.services import Subject

__all__ = [
    "Adviser",
    "Answer",
    "Briefing",
    "Brightness",
    "BrightnessModel",
    "Command",
    "Contribution",
    "ElementBatch",
    "ElementQuery",
    "ElementSource",
    "Exporter",
    "Illumination",
    "ObjectFacts",
    "Services",
    "SessionBriefing",
    "SessionReporter",
    "Settings",
    "Stage",
    "Subject",
]


#: What is made when it is first asked for: listing plugins needs none of it.
_LATE = {
    "Subject": "passes.contributions.services",
    **dict.fromkeys(
        (
            "Answer",
            "Briefing",
            "Brightness",
            "ElementBatch",
            "ElementQuery",
            "Illumination",
            "ObjectFacts",
            "SessionBriefing",
            "Settings",
        ),
        "passes.contributions.exchange",
    ),
}


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = globals()[name] = getattr(import_module(_LATE[name]), name)
    return value
