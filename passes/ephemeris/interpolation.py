"""Interpolation between states as messages ask for it (CCSDS 502.0-B).

The states nearest to a time carry it, as many before as after; those at the end of
the segment where there are no more.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from passes.ephemeris.message import HERMITE, Segment

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def places(segment: Segment, time_s: Floats) -> Floats:
    """Positions ``(k, 3)`` km in the segment's frame at times ``(k,)`` from its origin.

    Times are to lie within the segment's states.
    """
    first = _first_node(segment.time_s, segment.nodes, time_s)
    node = first[:, np.newaxis] + np.arange(segment.nodes)
    # measured from the nearest state, in units of the stretch: well conditioned
    near = segment.time_s[node]
    middle, scale = near[:, :1], near[:, -1:] - near[:, :1]
    times, at = (near - middle) / scale, (time_s[:, np.newaxis] - middle) / scale
    weights, slopes = _basis(times, at)
    position = segment.position_km[node]
    if segment.method == HERMITE:
        ahead = at - times
        own = (1.0 - 2.0 * ahead * slopes) * weights**2
        moving = ahead * weights**2 * scale
        velocity = segment.velocity_km_s[node]
        return _mixed(own, position) + _mixed(moving, velocity)
    return _mixed(weights, position)


def _first_node(nodes: Floats, count: int, time_s: Floats) -> Ints:
    """The first of the states that carry each time."""
    before = np.searchsorted(nodes, time_s, side="right") - 1
    first = before - (count - 1) // 2
    if count % 2:  # an odd number stands around the nearest state
        after = np.clip(before + 1, 0, nodes.size - 1)
        here = np.clip(before, 0, nodes.size - 1)
        first += np.abs(nodes[after] - time_s) < np.abs(time_s - nodes[here])
    return np.clip(first, 0, nodes.size - count)


def _basis(times: Floats, at: Floats) -> tuple[Floats, Floats]:
    """Lagrange's weights ``(k, m)`` at a time, and each one's slope at its own node."""
    weights, slopes = np.ones(times.shape), np.zeros(times.shape)
    for i in range(times.shape[1]):
        for j in range(times.shape[1]):
            if i != j:
                apart = times[:, i] - times[:, j]
                weights[:, i] *= (at[:, 0] - times[:, j]) / apart
                slopes[:, i] += 1.0 / apart
    return weights, slopes


def _mixed(weights: Floats, values: Floats) -> Floats:
    return np.asarray((weights[:, :, np.newaxis] * values).sum(axis=1))
