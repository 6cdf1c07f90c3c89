"""A plate solution out of a header, quickly: the usual kind directly, others by name.

astropy reads a whole header anew for each solution, which for a thousand files takes
longer than all the rest; a tangent projection with CD (or PC) matrix and SIP terms is
handed to it as numbers instead.
"""

from __future__ import annotations

import logging
import re
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_TANGENT = ("RA---TAN", "DEC--TAN")
_SIP = ("RA---TAN-SIP", "DEC--TAN-SIP")
#: Keywords that make a solution another kind than the usual.
_UNUSUAL = re.compile(r"(PV\d_\d+|CPDIS\d|DQ\d.*|D2IM.*|CROTA\d|PROJP\d)\Z")


def wcs_of(header: Any) -> Any:
    """The astropy solution of a header; raises what astropy raises."""
    from astropy.wcs import WCS

    _check_orders(header)
    if _usual(header):
        return _direct(header)
    with warnings.catch_warnings(), _hushed():
        warnings.simplefilter("ignore")
        return WCS(header, naxis=2)


@contextmanager
def _hushed() -> Iterator[None]:
    """Keep astropy's own remarks off stdout, where they would stand in an answer."""
    log = logging.getLogger("astropy")
    level = log.level
    log.setLevel(logging.ERROR)
    try:
        yield
    finally:
        log.setLevel(level)


def _check_orders(header: Any) -> None:
    """Refuse orders that would take a matrix of millions (SIP knows 2 to 9)."""
    for name in ("A", "B", "AP", "BP"):
        order = header.get(f"{name}_ORDER", 0)
        if not isinstance(order, int) or not 0 <= order <= 9:
            raise ValueError(f"{name}_ORDER {order!r} is impossible (0 to 9)")


def _usual(header: Any) -> bool:
    """Whether the solution is a plain tangent one, with or without SIP."""
    ctype = tuple(str(header.get(f"CTYPE{i}", "")).strip() for i in (1, 2))
    if ctype not in (_TANGENT, _SIP) or header.get("NAXIS", 2) != 2:
        return False
    if ctype == _SIP and not _bent(header):
        return False
    if any(str(header.get(f"CUNIT{i}", "deg")).strip() != "deg" for i in (1, 2)):
        return False
    if header.get("LONPOLE", 180.0) != 180.0:
        return False
    return not any(_UNUSUAL.match(key) for key in header)


def _bent(header: Any) -> bool:
    """Whether there are SIP terms; some programs forget to say so in CTYPE."""
    return "A_ORDER" in header or "B_ORDER" in header


def _direct(header: Any) -> Any:
    from astropy.wcs import WCS, Sip

    wcs = WCS(naxis=2)
    wcs.wcs.ctype = list(_SIP if _bent(header) else _TANGENT)
    wcs.wcs.crpix = [float(header.get(f"CRPIX{i}", 0.0)) for i in (1, 2)]
    wcs.wcs.crval = [float(header.get(f"CRVAL{i}", 0.0)) for i in (1, 2)]
    wcs.wcs.cd = _matrix(header)
    if _bent(header):
        a, b = _terms(header, "A"), _terms(header, "B")
        wcs.sip = Sip(a, b, None, None, wcs.wcs.crpix)
    wcs.wcs.set()
    return wcs


def _matrix(header: Mapping[str, Any]) -> Floats:
    """Degrees a pixel, ``(2, 2)``: CD, else PC times CDELT."""
    if any(f"CD{i}_{j}" in header for i in (1, 2) for j in (1, 2)):
        return np.array(
            [[float(header.get(f"CD{i}_{j}", 0.0)) for j in (1, 2)] for i in (1, 2)]
        )
    steps = [float(header.get(f"CDELT{i}", 1.0)) for i in (1, 2)]
    turn = [
        [float(header.get(f"PC{i}_{j}", float(i == j))) for j in (1, 2)] for i in (1, 2)
    ]
    return np.asarray(np.array(turn) * np.array(steps)[:, np.newaxis])


def _terms(header: Mapping[str, Any], name: str) -> Floats:
    """SIP coefficients ``(order + 1, order + 1)``."""
    order = int(header.get(f"{name}_ORDER", 0))
    terms = np.zeros((order + 1, order + 1))
    for p in range(order + 1):
        for q in range(order + 1 - p):
            terms[p, q] = float(header.get(f"{name}_{p}_{q}", 0.0))
    return terms
