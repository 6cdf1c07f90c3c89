"""Objects that fly together: fresh launches in file, and craft docked to a station."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from passes.constants import EARTH_MU_KM3_S2, EARTH_RADIUS_KM
from passes.objects.classes import is_station
from passes.objects.launches import Launch, launch_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Second zonal harmonic of the Earth (WGS 72, the set SGP4 uses; from memory).
_J2 = 1.082616e-3
_UNIX_EPOCH_JD = 2440587.5
_MINUTES_PER_DAY = 1440.0

#: Rule for flying in file (own choice, from how launches of 2025 spread out): of one
#: launch; planes and mean motions nearly equal, so that they stay in file all night;
#: each within this arc of the next, a minute in low orbit; at least so many.
TRAIN_PLANE_RAD = math.radians(0.5)
TRAIN_GAP_RAD = math.radians(4.0)
TRAIN_MOTION = 0.002
TRAIN_LEAST = 4
#: Docked: the same place to 6 km.  Element sets of docked craft are copies of the
#: station's, so that this only allows for rounding; a craft further off flies alone.
DOCKED_RAD = math.radians(0.05)


class Elements(Protocol):
    """Columns of mean elements, ``(n,)`` each, as a catalogue holds them."""

    @property
    def catalog_number(self) -> Ints: ...
    @property
    def name(self) -> Sequence[str]: ...
    @property
    def designator(self) -> Sequence[str]: ...
    @property
    def epoch_jd(self) -> Floats: ...
    @property
    def epoch_fraction(self) -> Floats: ...
    @property
    def inclination_rad(self) -> Floats: ...
    @property
    def raan_rad(self) -> Floats: ...
    @property
    def eccentricity(self) -> Floats: ...
    @property
    def argument_rad(self) -> Floats: ...
    @property
    def mean_anomaly_rad(self) -> Floats: ...
    @property
    def mean_motion_rad_min(self) -> Floats: ...


class _Places:
    """Where objects stand at one time: plane, arc along it, mean motion; ``(n,)``.

    Mean elements carried to that time by the secular J2 rates: differences between
    neighbours are good to a few hundredths of a degree a day, which is all the rules
    need; no propagator is involved, so that an object it refuses still has a place.
    """

    def __init__(self, elements: Elements, at: datetime | None) -> None:
        epoch_day = (elements.epoch_jd - _UNIX_EPOCH_JD) + elements.epoch_fraction
        latest = float(epoch_day.max()) if epoch_day.size else 0.0
        day = latest if at is None else at.timestamp() / 86400.0
        minutes = (day - epoch_day) * _MINUTES_PER_DAY
        self.motion = elements.mean_motion_rad_min
        axis_km = np.cbrt(EARTH_MU_KM3_S2 * 3600.0 / self.motion**2)
        parameter = axis_km * (1 - elements.eccentricity**2) / EARTH_RADIUS_KM
        rate = 1.5 * _J2 * self.motion / parameter**2
        self.cosine = np.cos(elements.inclination_rad)
        node = elements.raan_rad - rate * self.cosine * minutes
        turning = rate * (2.5 * self.cosine**2 - 0.5)
        start = elements.argument_rad + elements.mean_anomaly_rad
        self.arc = start + (self.motion + turning) * minutes
        self.node = node
        self.sine = np.sin(elements.inclination_rad)
        self.pole = np.stack(
            [self.sine * np.sin(node), -self.sine * np.cos(node), self.cosine], axis=-1
        )

    def plane_angle(self, rows: Ints, others: Ints) -> Floats:
        """Angle between orbit planes, ``(len(rows), len(others))``."""
        chord = self.pole[rows][:, None, :] - self.pole[others][None, :, :]
        half = np.sqrt((chord**2).sum(axis=-1)) / 2
        return np.asarray(2 * np.arcsin(np.minimum(half, 1.0)))

    def apart(self, rows: Ints, others: Ints) -> Floats:
        """Arc along the track between objects of nearly one plane, ``(k, l)``."""
        node = self.node[rows][:, None] - self.node[others][None, :]
        node = (node + np.pi) % (2 * np.pi) - np.pi
        arc = self.arc[rows][:, None] - self.arc[others][None, :]
        arc = arc + node * self.cosine[others][None, :]
        return np.asarray(np.abs((arc + np.pi) % (2 * np.pi) - np.pi))

    def unlike(self, rows: Ints, others: Ints) -> Floats:
        """Relative difference of mean motion, ``(k, l)``."""
        ratio = self.motion[rows][:, None] / self.motion[others][None, :]
        return np.asarray(np.abs(ratio - 1))


def trains(elements: Elements, at: datetime | None = None) -> Ints:
    """Which objects of one launch fly in file, ``(n,)``: a group id, −1 for none.

    ``at`` is an aware time (default the latest epoch).  Two objects are neighbours
    if they share a launch, their planes differ by under 0.5°, their mean motions by
    under 0.2 %, and at that time they are within 4° along the track; a train is four
    or more linked by such neighbours.  Ids count up from 0 in order of the rows.
    """
    launches: dict[Launch, list[int]] = defaultdict(list)
    for row, designator in enumerate(elements.designator):
        if launch := launch_of(designator):
            launches[launch].append(row)
    places = _Places(elements, at)
    label = np.full(len(elements.designator), -1, dtype=np.int64)
    for rows in launches.values():
        if len(rows) >= TRAIN_LEAST:
            _label_launch(places, np.array(rows), label)
    first: dict[int, int] = {-1: -1}
    for one in label.tolist():
        first.setdefault(one, len(first) - 1)
    return np.array([first[one] for one in label.tolist()], dtype=np.int64)


def _label_launch(places: _Places, rows: Ints, label: Ints) -> None:
    """Write the trains of one launch into ``label``: the lowest row of each."""
    near = places.apart(rows, rows) < TRAIN_GAP_RAD
    near &= places.plane_angle(rows, rows) < TRAIN_PLANE_RAD
    near &= places.unlike(rows, rows) < TRAIN_MOTION
    group = _linked(near)
    members = np.bincount(group, minlength=rows.size)
    large = members[group] >= TRAIN_LEAST
    label[rows[large]] = rows[group[large]]


def _linked(near: Bools) -> Ints:
    """The lowest index that each index is linked to through neighbours, ``(n,)``."""
    count = near.shape[0]
    near = near | near.T | np.eye(count, dtype=bool)
    label = np.arange(count)
    while True:
        lower = np.where(near, label[None, :], count).min(axis=1)
        lower = lower[lower]
        if np.array_equal(lower, label):
            return label
        label = lower


def attached(elements: Elements, at: datetime | None = None) -> Ints:
    """The row of the station each object is docked to, ``(n,)``; −1 for none.

    Modules and visiting craft have element sets of their own that are copies of the
    station's: without this one station would be several.  The row that stands for
    the station itself (:func:`passes.objects.is_station`) has −1.
    """
    stations = np.flatnonzero(is_station(elements.catalog_number, elements.name))
    places = _Places(elements, at)
    everyone = np.arange(len(elements.name))
    host = np.full(everyone.size, -1, dtype=np.int64)
    for station in stations:
        one = np.array([station])
        here = places.plane_angle(everyone, one)[:, 0] < DOCKED_RAD
        here &= places.apart(everyone, one)[:, 0] < DOCKED_RAD
        host[here] = station
    host[stations] = -1
    return host
