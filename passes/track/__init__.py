"""One pass sampled in full: pointing, rates, light and caveats, second by second."""

from passes.track.sampling import STALE_DAYS, sample_track

__all__ = ["STALE_DAYS", "sample_track"]
