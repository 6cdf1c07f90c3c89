"""Orbit ephemeris messages as XML (CCSDS 505.0-B), also several within ``ndm``.

The tree is walked as a stream; only the states are kept.
"""

from __future__ import annotations

import re

from passes.ephemeris.gathering import Gathered
from passes.errors import EphemerisError
from passes.streams import Damaged, Refused, walk

_BEGINS = re.compile(rb"\s*(<\?xml\b|<!--|<!DOCTYPE\b|<([\w.-]+:)?(ndm|oem|omm)\b)")
_OTHERS = frozenset({"omm", "opm", "aem", "apm", "cdm", "rdm", "tdm", "ocm", "acm"})
_STATE = ("X", "Y", "Z", "X_DOT", "Y_DOT", "Z_DOT")


def matches(data: bytes) -> bool:
    """Whether the text begins as XML of this family."""
    return _BEGINS.match(data[:65536]) is not None


def gather(data: bytes, gathered: Gathered) -> None:
    """Read every message of a text; what is damaged is refused whole."""
    where = gathered.where
    try:
        _Reader(gathered).read(data)
    except Refused as error:
        raise EphemerisError(where, str(error)) from error
    except Damaged as error:
        raise EphemerisError(f"{where}:{error.line}", str(error)) from error


class _Reader:
    """Hands over what the elements of a message say."""

    def __init__(self, gathered: Gathered) -> None:
        self._gathered = gathered
        self._state: dict[str, str] | None = None
        self._covariance = False
        self._segments = self._states = 0

    def read(self, data: bytes) -> None:
        """Walk through the whole text."""
        for enters, name, text in walk(data):
            if enters:
                self._enter(name)
            else:
                self._leave(name, text)

    @property
    def _where(self) -> str:
        place = f", segment {self._segments}" if self._segments else ""
        if self._state is not None:
            place += f", state {self._states}"
        return self._gathered.where + place

    def _enter(self, name: str) -> None:
        if name == "oem" or name in _OTHERS:
            self._segments = 0
            self._gathered.begin(self._where, name.upper())
        elif name == "metadata":
            self._segments, self._states = self._segments + 1, 0
            self._gathered.segment(self._where)
        elif name == "stateVector":
            self._states += 1
            self._state = {}
        elif name == "covarianceMatrix":
            self._covariance = True

    def _leave(self, name: str, text: str) -> None:
        if name == "covarianceMatrix":
            self._covariance = False
        elif self._covariance:
            return
        elif name == "metadata":
            self._gathered.ready(self._where)
        elif name == "stateVector" and self._state is not None:
            values = [self._state.get(key, "") for key in _STATE]
            self._gathered.state(self._where, self._state.get("EPOCH", ""), values)
            self._state = None
        elif self._state is not None:
            self._state[name] = text
        elif name == "COMMENT":
            self._gathered.comment(text)
        elif name.isupper() and text:
            self._gathered.field(self._where, name, text)
