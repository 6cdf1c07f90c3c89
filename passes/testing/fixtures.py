"""The samples as pytest fixtures; needs pytest, so nothing else imports it.

Put ``pytest_plugins = ["passes.testing.fixtures"]`` into ``conftest.py``.
"""

from __future__ import annotations

import pytest

from passes import testing as kit
from passes.contributions import (
    Answer,
    Briefing,
    ElementQuery,
    Illumination,
    SessionBriefing,
)
from passes.model import (
    Advice,
    Crossing,
    Event,
    Night,
    Passage,
    Rig,
    Session,
    Site,
    Step,
    Track,
)


@pytest.fixture
def sample_site() -> Site:
    """A hill in the North Pacific."""
    return kit.site()


@pytest.fixture
def sample_night() -> Night:
    """An autumn night with full darkness."""
    return kit.night()


@pytest.fixture
def sample_rig() -> Rig:
    """A long telescope with a video camera."""
    return kit.rig()


@pytest.fixture
def sample_session() -> Session:
    """Three subs of five minutes."""
    return kit.session()


@pytest.fixture
def sample_track() -> Track:
    """A flight past the site."""
    return kit.track()


@pytest.fixture
def sample_passage() -> Passage:
    """The passage that the track shows."""
    return kit.passage()


@pytest.fixture
def sample_crossing() -> Crossing:
    """A run through the sample field."""
    return kit.crossing()


@pytest.fixture
def sample_event() -> Event:
    """A transit of half a second."""
    return kit.event()


@pytest.fixture
def sample_query() -> ElementQuery:
    """A query to an element source."""
    return kit.query()


@pytest.fixture
def sample_illumination() -> Illumination:
    """Six samples of three objects."""
    return kit.illumination()


@pytest.fixture
def sample_briefing() -> Briefing:
    """The passage for the long rig."""
    return kit.briefing()


@pytest.fixture
def sample_session_briefing() -> SessionBriefing:
    """The session, with a crossing in its first sub."""
    return kit.session_briefing()


@pytest.fixture
def sample_answer() -> Answer:
    """A list of one pass, to be written."""
    return kit.answer()


@pytest.fixture
def sample_advice() -> Advice:
    """How to shoot the passage with the long rig."""
    return kit.advice()


@pytest.fixture
def sample_steps() -> tuple[Step, ...]:
    """What a capture script is told for the passage."""
    return kit.steps()


@pytest.fixture
def fake_services() -> kit.FakeServices:
    """Services with canned answers."""
    return kit.FakeServices()
