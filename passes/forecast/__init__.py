"""Builds the services that commands and plugins use; believes no plugin blindly."""

from passes.forecast.passages import Passages, light_passes
from passes.forecast.request import Request
from passes.forecast.services import Forecast, build
from passes.forecast.tonight import Searched, Tonight, TonightRow

__all__ = [
    "Forecast",
    "Passages",
    "Request",
    "Searched",
    "Tonight",
    "TonightRow",
    "build",
    "light_passes",
]
