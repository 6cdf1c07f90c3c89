"""Words and figures as a person reads them: safe text, times, spans, directions."""

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta, tzinfo
from math import ceil, floor, isfinite, isnan

from passes.model import Span
from passes.model.text import plain

__all__ = [
    "BESIDE_SUN",
    "UNKNOWN",
    "caveats",
    "clock",
    "compass",
    "magnitude",
    "number",
    "offset",
    "plain",
    "seconds",
    "span",
    "step_s",
    "zone_of",
]

#: What is shown where nothing is known.
UNKNOWN = "–"
_POINTS = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)
#: Steps to which a time may be rounded, seconds, and the decimals each needs.
_STEPS_S = {0.001: 3, 0.01: 2, 0.1: 1, 1.0: 0, 10.0: 0, 60.0: 0}

#: What to do where the Sun is up: the usual caution.
BESIDE_SUN = (
    "Cover every optic while slewing; never look or point near it without a certified "
    "full-aperture solar filter."
)
#: What each flag of :class:`passes.model.Flags` asks a person to keep in mind.
_CAVEATS = {
    "up_at_start": "up already when the window opens",
    "up_at_end": "still up when the window closes",
    "culminates_outside": "highest outside the window",
    "ends_in_failure": "cut off where SGP4 can place it no longer",
    "stale_elements": "its elements are over a week off",
    "class_sigma": "± is that of its class",
    "class_magnitude": "its magnitude is that of its class",
    "model_failed": "the brightness model failed: magnitude of its class",
    "decaying": "sinking fast: times may be minutes off",
    "change_over": "changes over to or from its operator's ephemeris",
    "manoeuvres": "it may manoeuvre, which no prediction knows",
    "lateness_applied": "a measured lateness is applied",
    "in_field_at_start": "in the field already when the window opens",
    "in_field_at_end": "still in the field when the window closes",
    "rises_in_field": "comes up inside the field",
    "sets_in_field": "goes down inside the field",
}


def caveats(flags: Iterable[str]) -> list[str]:
    """Flags, as records name them, in words; one without words by its name."""
    return [_CAVEATS.get(flag, flag.replace("_", " ")) for flag in flags]


def step_s(sigma_s: float, finest_s: float = 1.0) -> float:
    """The step to which a time with this sigma is shown; at most a minute."""
    if isnan(sigma_s):
        return 60.0
    fitting = [step for step in _STEPS_S if step <= max(sigma_s, finest_s)]
    return max(fitting, default=finest_s)


def clock(
    time: datetime,
    zone: tzinfo,
    step: float = 60.0,
    whole: Callable[[float], int] = round,
) -> str:
    """Local time of day, in whole steps (seconds) and shown no finer than that."""
    unit = timedelta(seconds=step)
    midnight = time.replace(hour=0, minute=0, second=0, microsecond=0)
    local = (midnight + whole((time - midnight) / unit) * unit).astimezone(zone)
    if step >= 60.0:
        return f"{local:%H:%M}"
    decimals = _STEPS_S[step]
    fraction = f".{local.microsecond:06d}"[: 1 + decimals] if decimals else ""
    return f"{local:%H:%M:%S}{fraction}"


def span(times: Span | None, zone: tzinfo, *, outward: bool = False) -> str:
    """From when to when, local; ``outward`` so that nothing of it is left out."""
    if times is None:
        return UNKNOWN
    first, last = (floor, ceil) if outward else (round, round)
    start = clock(times.start, zone, whole=first)
    return f"{start}–{clock(times.end, zone, whole=last)}"


def seconds(sigma_s: float, finest_s: float = 0.01) -> str:
    """A sigma of time, to one digit that means something, at least ``finest_s``."""
    if not isfinite(sigma_s):
        return ""
    if sigma_s >= 99.5:
        return f"±{sigma_s / 60.0:.0f} min"
    sigma_s = max(sigma_s, finest_s)
    digits = 0 if sigma_s >= 0.95 else 1 if sigma_s >= 0.095 else 2
    return f"±{sigma_s:.{digits}f} s"


def compass(azimuth_deg: float) -> str:
    """The nearest of the sixteen points of the compass."""
    if isnan(azimuth_deg):
        return UNKNOWN
    return _POINTS[round(azimuth_deg / 22.5) % 16]


def number(value: float, digits: int = 0, unit: str = "") -> str:
    """A number with its unit, or a dash where it is unknown."""
    return f"{value:.{digits}f}{unit}" if isfinite(value) else UNKNOWN


def magnitude(value: float, sigma: float) -> str:
    """A magnitude and how far it can be trusted."""
    if isnan(value):
        return UNKNOWN
    return f"{value:.1f}" if isnan(sigma) else f"{value:.1f}±{sigma:.1f}"


def zone_of(name: str) -> tzinfo:
    """The time zone of that name; UTC where there is none."""
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        return UTC


def offset(time: datetime, zone: tzinfo) -> str:
    """How far local time is from UTC then, such as ``UTC+2`` or ``UTC−3:30``."""
    shift = time.astimezone(zone).utcoffset() or timedelta()
    minutes = round(shift / timedelta(minutes=1))
    if not minutes:
        return "UTC"
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'+' if minutes > 0 else '-'}{hours}" + (f":{rest:02d}" if rest else "")
