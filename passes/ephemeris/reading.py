"""Messages from the bytes of a file, in either form."""

from __future__ import annotations

from passes.ephemeris import kvn, xml
from passes.ephemeris.gathering import Gathered
from passes.ephemeris.message import Message
from passes.errors import EphemerisError

#: So many states are read of one file at most.
MAX_STATES = 300_000


def read_messages(
    data: bytes, where: str, *, max_states: int = MAX_STATES
) -> tuple[Message, ...]:
    """Every orbit ephemeris message of a file's bytes, KVN or XML told by content.

    Raises EphemerisError, in one line, for whatever is wrong with any of them.
    """
    gathered = Gathered(where, max_states)
    if xml.matches(data):
        xml.gather(data, gathered)
    elif kvn.matches(data):
        kvn.gather(data, gathered)
    else:
        reason = "holds no orbit ephemeris message (CCSDS OEM as KVN or XML)"
        raise EphemerisError(where, reason)
    return gathered.finish()
