"""The plugin author's kit: records to try a plugin on, and a check of the whole.

::

    import passes.testing as kit
    import my_plugin

    def test_my_plugin():
        assert kit.check_plugin(my_plugin).findings == ()

    def test_my_adviser():
        advice = my_plugin.advise(kit.briefing(rig=kit.rig(focal_length_mm=2000.0)))
        assert advice.exposure_s > 0.0

    def test_my_command():
        typed = kit.run(my_plugin.load(), "--limit", "1", services=kit.FakeServices())
        assert typed.stdout == "..."

Every sample is invented: a hill in the ocean, objects from 80001 up.  Each function
takes the fields to change by keyword.  The samples agree with each other (the passage
is that of the track, the session that of the night), and none needs the engine.

For pytest, put ``pytest_plugins = ["passes.testing.fixtures"]`` into ``conftest.py``:
each sample is then a fixture too (``sample_track``, ``fake_services`` ...).
"""

from passes.renamed import former_names
from passes.testing.checking import Checkup, check_plugin
from passes.testing.elements import catalogue, element_sets, element_text
from passes.testing.instructions import advice, steps
from passes.testing.places import bare_rig, night, rig, session, site, target
from passes.testing.requests import (
    answer,
    batch,
    briefing,
    facts,
    illumination,
    no_illumination,
    query,
    session_briefing,
)
from passes.testing.running import run
from passes.testing.services import FakeServices
from passes.testing.sightings import (
    crossing,
    event,
    growth,
    passage,
    track,
    unknown_track,
)

__all__ = [
    "Checkup",
    "FakeServices",
    "advice",
    "answer",
    "bare_rig",
    "batch",
    "briefing",
    "catalogue",
    "check_plugin",
    "crossing",
    "element_sets",
    "element_text",
    "event",
    "facts",
    "growth",
    "illumination",
    "night",
    "no_illumination",
    "passage",
    "query",
    "rig",
    "run",
    "session",
    "session_briefing",
    "site",
    "steps",
    "target",
    "track",
    "unknown_track",
]

#: Former names of what this module offers, and the present ones.
FORMER: dict[str, str] = {}
__getattr__ = former_names(__name__, FORMER)
