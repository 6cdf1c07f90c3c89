"""Search A: every pass of every object over one site, and samples along them."""

from passes.finder.samples import Samples, sample
from passes.finder.search import search_passes
from passes.finder.table import PassTable, Points

__all__ = ["PassTable", "Points", "Samples", "sample", "search_passes"]
