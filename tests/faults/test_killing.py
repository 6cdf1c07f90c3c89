"""Programs killed at random moments: nothing kept is lost, no file is half.

``kill_programs.py`` does the same as often as one likes.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from random import Random

import pytest
from kill_programs import KINDS

pytestmark = pytest.mark.skipif(
    sys.platform == "win32" or not hasattr(signal, "SIGKILL"),
    reason="no kill -9 on this system",
)


@pytest.mark.parametrize("kind", KINDS)
def test_after_kill_9_nothing_is_lost_halved_repeated_or_forgotten(
    tmp_path: Path, kind: str
) -> None:
    toll = KINDS[kind](tmp_path, 10, Random(2))
    assert toll.kills == 10
    assert toll.before > 0
    assert toll.faults == []
