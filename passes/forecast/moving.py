"""The same question asked of another place, or over another window."""

from __future__ import annotations

from dataclasses import replace

from passes.forecast.request import Request
from passes.model import Site, Span


def moved(request: Request, site: Site | str | None, window: Span | None) -> Request:
    """A request with another site (or the name of one), another window, or both."""
    if isinstance(site, str):
        request = replace(request, site=None, site_name=site)
    elif site is not None:
        request = replace(request, site=site, site_name="")
    if window is not None:
        request = replace(request, date=None, start=window.start, end=window.end)
    return request
