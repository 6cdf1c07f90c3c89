"""Search A: every pass of every object over one site."""

from passes.finder.table import PassTable, Points

__all__ = ["PassTable", "Points"]
