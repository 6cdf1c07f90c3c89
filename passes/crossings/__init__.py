"""Search B: every object that enters a disc, a rectangle or a body's own disc."""

from passes.crossings.lateness import shift
from passes.crossings.search import search_crossings
from passes.crossings.table import CrossingTable, Places

__all__ = ["CrossingTable", "Places", "search_crossings", "shift"]
