"""What keeps a server from giving element sets, in one line each."""

from __future__ import annotations

import re
import time
from email.utils import parsedate_to_datetime
from typing import TYPE_CHECKING

from passes.errors import PassesError

if TYPE_CHECKING:
    import httpx

_WORDS = {
    401: "it wants a login",
    403: "it refuses; it may find it was asked too often: wait some hours",
    404: "there is no such page; check the url in the configuration",
    429: "it was asked too often",
}
_TRY_AGAIN = (429, 500, 502, 503, 504)
#: How systems number their errors, which tells a person nothing.
_NUMBER = re.compile(r"\[Errno -?\d+\]\s*")


class SourceError(PassesError):
    """A source gave no element sets; ``heard`` says whether it answered at all.

    ``retry_after_s`` is how long it wants to be left alone, None if it did not say.
    """

    def __init__(
        self,
        message: str,
        *,
        heard: bool = False,
        again: bool = False,
        retry_after_s: float | None = None,
    ) -> None:
        super().__init__(message)
        self.heard, self.again, self.retry_after_s = heard, again, retry_after_s


def refusal(url: str, response: httpx.Response) -> SourceError:
    """What a status other than 200 means."""
    status = response.status_code
    wait_s = _retry_after_s(response.headers.get("retry-after", ""))
    told = f"{url}: HTTP {status}: {_WORDS.get(status, _reason(response))}"
    if wait_s:
        told += f"; it wants to be left alone for {_duration(wait_s)}"
    again = status in _TRY_AGAIN
    return SourceError(told, heard=True, again=again, retry_after_s=wait_s)


def _reason(response: httpx.Response) -> str:
    return response.reason_phrase.lower() or "no element sets"


def _retry_after_s(text: str) -> float | None:
    """How long to wait, from seconds or from a date (RFC 9110, section 10.2.3)."""
    if text.strip().isdecimal():
        return float(text)
    try:
        return max(0.0, parsedate_to_datetime(text).timestamp() - time.time())
    except ValueError:
        return None


def _duration(length_s: float) -> str:
    return f"{length_s / 3600:.1f} h" if length_s >= 5400 else f"{length_s:.0f} s"


def broken(url: str, error: Exception) -> SourceError:
    """What a connection that failed, or ended too soon, means."""
    text = _NUMBER.sub("", str(error)).strip() or type(error).__name__
    if "CERTIFICATE" in text.upper():
        return SourceError(f"{url}: its certificate is not to be trusted ({text})")
    if "peer closed" in text or "incomplete" in text:
        return SourceError(f"{url}: cut off on the way", heard=True, again=True)
    return SourceError(f"{url}: cannot be reached ({text})", again=True)
