"""Coefficients of whole classes of orbit, fitted to successive real element sets."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: A mean motion from which drag rules (about 500 km up), revolutions a day.
LOWEST_REV_DAY = 15.2
#: Constellation craft below this (about 700 km up) keep their places with few
#: manoeuvres; above it they fly electric and correct all the time.
STEADY_REV_DAY = 14.5
#: Below this mean motion an orbit is no longer low (about 2,100 km).
LOW_REV_DAY = 11.0
ECCENTRIC = 0.1
#: A geosynchronous orbit inclined less than this is held over its place.
KEPT_DEG = 0.1
#: What grows along the path, by name of the growth record's field; drag drives it.
ALONG = ("sigma1_s", "power", "bound1_s", "bound_power")
#: What grows across it; it goes with the inclination (SGP4's rate of the node is off by
#: the same share for all orbits of one inclination).
ACROSS = "cross1_km"
#: The error of any object on the day of its epoch.
AT_EPOCH = ("sigma0_s", "bound0_s", "cross0_km")
FIELDS = (*AT_EPOCH, *ALONG, ACROSS)
#: These grow as drag does, beyond the strongest drag on record too.
_WITH_DRAG = ("sigma1_s", "bound1_s")
CLASSES = (
    "constellation",
    "steady constellation",
    "low",
    "lowest",
    "passive low",
    "passive lowest",
    "geostationary",
    "geosynchronous",
    "medium",
    "eccentric",
)


@dataclass(frozen=True, slots=True, eq=False)
class Classes:
    """Coefficients of each class; made by :func:`load`.

    ``epoch`` holds the terms at age 0; ``nodes`` arrays by field over the drag of
    ``nodes["drag_s_day2"]`` (one node: drag does not matter), ``tilts`` the growth
    across the path over ``tilts["inclination_deg"]``; ``overall`` the values of the
    class where nothing is known of an object's drag or inclination; ``usual`` the mean
    of :func:`passes.growth.history.log_ratio` in the class.
    """

    epoch: dict[str, dict[str, float]]
    nodes: dict[str, dict[str, Floats]]
    tilts: dict[str, dict[str, Floats]]
    overall: dict[str, dict[str, float]]
    manoeuvres: dict[str, bool]
    usual: dict[str, float]
    fleets: tuple[str, ...]

    def coefficients(
        self, named: NDArray[np.str_], drag_s_day2: Floats, inclination_deg: Floats
    ) -> dict[str, Floats]:
        """Arrays ``(n,)`` by field; nan takes the value of the whole class."""
        columns = {field: np.full(named.shape, np.nan) for field in FIELDS}
        for name in np.unique(named).tolist():
            rows = np.flatnonzero(named == name)
            drag, tilt = np.abs(drag_s_day2[rows]), inclination_deg[rows]
            overall = self.overall[name]
            for field in AT_EPOCH:
                columns[field][rows] = self.epoch[name][field]
            for field in ALONG:
                fitted = _by_drag(self.nodes[name], field, drag)
                columns[field][rows] = np.where(np.isnan(drag), overall[field], fitted)
            across = _by_tilt(self.tilts[name], tilt)
            columns[ACROSS][rows] = np.where(np.isnan(tilt), overall[ACROSS], across)
        return columns


def _by_drag(nodes: dict[str, Floats], field: str, drag: Floats) -> Floats:
    """One field along the drag: straight between nodes in logarithms."""
    at = nodes["drag_s_day2"]
    if at.size == 1:
        return np.full(drag.shape, nodes[field][0])
    logarithmic = field not in ("power", "bound_power")
    values = np.log(nodes[field]) if logarithmic else nodes[field]
    found = np.interp(np.log(np.maximum(drag, 1e-12)), np.log(at), values)
    if not logarithmic:
        return np.asarray(found)
    beyond = drag / at[-1] if field in _WITH_DRAG else np.ones(drag.shape)
    return np.asarray(np.exp(found) * np.maximum(beyond, 1.0))


def _by_tilt(tilts: dict[str, Floats], tilt_deg: Floats) -> Floats:
    """Growth across the path along the inclination, straight in its logarithm."""
    found = np.interp(tilt_deg, tilts["inclination_deg"], np.log(tilts[ACROSS]))
    return np.asarray(np.exp(found))


@cache
def load() -> Classes:
    """The values that ship with the program, ``passes/data/growth.json``."""
    text = files("passes").joinpath("data/growth.json").read_text(encoding="utf-8")
    return from_document(json.loads(text))


def from_document(document: dict[str, Any]) -> Classes:
    """The values of a document like the one that ships."""
    classes = document["classes"]
    return Classes(
        epoch={name: one["at_epoch"] for name, one in classes.items()},
        nodes={
            name: {key: np.array(values) for key, values in one["by_drag"].items()}
            for name, one in classes.items()
        },
        tilts={
            name: {key: np.array(values) for key, values in one["by_tilt"].items()}
            for name, one in classes.items()
        },
        overall={name: one["overall"] for name, one in classes.items()},
        manoeuvres={name: one["manoeuvres"] for name, one in classes.items()},
        usual={name: one.get("usual_log_ratio", 0.0) for name, one in classes.items()},
        fleets=tuple(document["fleets"]),
    )


def fleet_members(names: Iterable[str]) -> Bools:
    """Which objects belong to a constellation by the head of their name, ``(n,)``."""
    heads = load().fleets
    return np.array([name.upper().startswith(heads) for name in names], dtype=bool)


def borrows(object_class: ArrayLike) -> Bools:
    """Whether objects of such a kind were measured nowhere, so that they borrow.

    Rocket bodies and debris are not among the sets that the classes come from; in low
    orbit they borrow from payloads that never steered (no thrust, air and gravity
    alone), elsewhere from all payloads there, whose manoeuvres make the bound wide.
    """
    words = np.asarray(object_class)
    return np.asarray((words != "payload") & (words != "station"))


def orbit_class(
    object_class: ArrayLike,
    mean_motion_rev_day: ArrayLike,
    eccentricity: ArrayLike,
    constellation: ArrayLike | None = None,
    inclination_deg: ArrayLike = np.nan,
) -> NDArray[np.str_]:
    """The class of error of each object, ``(n,)`` of :data:`CLASSES`.

    ``object_class`` holds the words of the objects' classes.  ``constellation`` says
    who belongs to one, which matters most: such craft manoeuvre all the time.  Where
    nobody says, a payload in low orbit is taken for one (four in five are).  Rocket
    bodies, debris and what has no known kind borrow the class of passive payloads.
    """
    motion = np.asarray(mean_motion_rev_day, dtype=np.float64)
    if constellation is None:
        constellation = np.asarray(object_class) == "payload"
    many = np.asarray(constellation, dtype=bool)
    company = np.where(motion < STEADY_REV_DAY, "steady constellation", "constellation")
    alone = np.where(motion < LOWEST_REV_DAY, "low", "lowest")
    adrift = np.where(motion < LOWEST_REV_DAY, "passive low", "passive lowest")
    alone = np.where(borrows(object_class), adrift, alone)
    named = np.where(many, company, alone)
    named = np.where(motion < LOW_REV_DAY, "medium", named)
    # of unknown inclination: held over its place, where errors are larger
    kept = ~(np.asarray(inclination_deg, dtype=np.float64) >= KEPT_DEG)
    synchronous = np.where(kept, "geostationary", "geosynchronous")
    named = np.where((motion > 0.9) & (motion < 1.1), synchronous, named)
    eccentric = np.asarray(eccentricity, dtype=np.float64) >= ECCENTRIC
    return np.where(eccentric, "eccentric", named)


def class_coefficients(
    object_class: ArrayLike,
    mean_motion_rev_day: ArrayLike,
    eccentricity: ArrayLike,
    constellation: ArrayLike | None = None,
    *,
    inclination_deg: ArrayLike = np.nan,
    drag_s_day2: ArrayLike = np.nan,
    classes: Classes | None = None,
) -> dict[str, Floats]:
    """Coefficients of each object's class, arrays ``(n,)`` by field of a growth record.

    The fields are :data:`FIELDS` and ``manoeuvres`` (0 or 1); the first arguments as
    for :func:`orbit_class`, ``drag_s_day2`` as :func:`passes.growth.drag_s_day2`
    gives it (nan: unknown, the value of the whole class).
    """
    named = orbit_class(
        object_class, mean_motion_rev_day, eccentricity, constellation, inclination_deg
    )
    classes = load() if classes is None else classes
    drag = np.broadcast_to(np.asarray(drag_s_day2, dtype=np.float64), named.shape)
    tilt = np.broadcast_to(np.asarray(inclination_deg, dtype=np.float64), named.shape)
    columns = classes.coefficients(named, drag, tilt)
    steers = np.array([classes.manoeuvres[name] for name in named.tolist()], dtype=bool)
    steers |= np.asarray(object_class) == "station"  # lifted every few weeks
    return columns | {"manoeuvres": steers.astype(np.float64)}
