"""An operator's ephemeris (CCSDS OEM) in: messages, and places along them."""

from passes.ephemeris.flight import Flight
from passes.ephemeris.message import FRAMES, Message, Segment
from passes.ephemeris.reading import MAX_STATES, read_messages
from passes.ephemeris.writing import oem_text

__all__ = [
    "FRAMES",
    "MAX_STATES",
    "Flight",
    "Message",
    "Segment",
    "oem_text",
    "read_messages",
]
