"""The archive of element sets: one SQLite file, one row an object and epoch.

It keeps every set that was ever given, with its origin and time of arrival, hands over
each object's set nearest to a time, and never loses what it holds: adding happens
whole or not at all, a damaged file is set aside, a file of another kind is left alone.
"""

from passes.archive.archive import Archive, default_path
from passes.archive.records import Added, Filter, Holdings, Kept, SourceState

__all__ = [
    "Added",
    "Archive",
    "Filter",
    "Holdings",
    "Kept",
    "SourceState",
    "default_path",
]
