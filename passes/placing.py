"""When to open the shutter so that most is kept: exact, over whole steps of time.

Exposures are taken in a fixed order.  Between them the camera may wait, at a price a
step, or do a chore (a dither, a focus run, a flip) somewhere within that chore's own
limits.  What is best is found by dynamic programming over the exposures taken, the
chores done and the steps waited so far: every order that the limits allow is compared,
so the answer is exact on this grid of time.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes.errors import InputError

Floats = NDArray[np.float64]

#: Gains below this are rounding, not gains.
_TIE = 1e-9
#: No more decisions than this are kept (a byte each).
_MOST_CELLS = 400_000_000
_STOP, _EXPOSE, _HOLD, _CHORE = 0, 1, 2, 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Chore:
    """Something of ``steps`` between exposures, once ``first`` to ``last`` are taken.

    It may not begin before step ``not_before``.  Without ``due`` it must be done
    before the exposure after the ``last``; with it, none of the exposures from
    ``first`` to ``last`` may begin at that step or later until it is done, and past
    ``last`` it is no longer needed.  Where it makes no difference, what is due by time
    is done as soon as it may, anything else as late.
    """

    steps: int
    first: int
    last: int
    not_before: int = 0
    due: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """The best way: steps at which exposures and chores begin, -1 for those left out.

    ``chores`` are by chain; ``value`` counts exposures, less the price of the ``held``
    steps.
    """

    starts: tuple[int, ...]
    chores: tuple[tuple[int, ...], ...]
    value: float
    held: int


#: Chores done or lapsed in each chain, and the steps they took.
_State = tuple[tuple[int, ...], int]


def place(
    values: Floats,
    which: Sequence[int],
    steps: Sequence[int],
    *,
    chains: Sequence[Sequence[Chore]] = (),
    most_held: int,
    price: float = 1.0,
) -> Placement:
    """Place exposures in their order.

    ``values`` ``(classes, t)`` is what an exposure of a class is worth when it begins
    at each step (-inf where it must not begin, as past the end); ``which`` ``(n,)`` is
    the class of each exposure and ``steps`` ``(n,)`` how long each keeps the camera
    busy.  Chores of one chain keep their order.  At most ``most_held`` steps are waited
    in all, each at ``price``; exposures at the end may be left out.  Raises InputError
    for lengths below one step, and where there is too much to compare.
    """
    if len(which) != len(steps) or any(s < 1 for s in steps) or most_held < 0:
        raise InputError("placing: every exposure needs a class and a step or more")
    return _Search(values, which, steps, chains, most_held, price).best()


class _Search:
    def __init__(
        self,
        values: Floats,
        which: Sequence[int],
        steps: Sequence[int],
        chains: Sequence[Sequence[Chore]],
        most_held: int,
        price: float,
    ) -> None:
        self.which, self.steps, self.chains = which, steps, chains
        self.width, self.price = most_held + 1, price
        self.busy = np.concatenate([[0], np.cumsum(steps)]).astype(int)
        chores = sum(one.steps for chain in chains for one in chain)
        longest = int(self.busy[-1]) + chores + self.width
        short = max(longest - values.shape[1], 0)
        self.values = np.pad(values, ((0, 0), (0, short)), constant_values=-np.inf)
        self.held = np.arange(self.width)
        self.levels = self._levels()
        cells = sum(map(len, self.levels)) * self.width
        if cells > _MOST_CELLS:
            raise InputError(
                "placing: too much to compare; allow less waiting, or fewer exposures"
            )
        self.choices: list[dict[_State, NDArray[np.uint8]]] = []

    # --- what may follow what ------------------------------------------------------

    def _lapsed(self, k: int, counts: tuple[int, ...]) -> tuple[int, ...]:
        """Counts after ``k`` exposures, chores no longer needed among them."""
        found = []
        for chain, count in zip(self.chains, counts, strict=True):
            while count < len(chain) and _over(chain[count], k):
                count += 1
            found.append(count)
        return tuple(found)

    def _may_expose(self, k: int, counts: tuple[int, ...]) -> bool:
        pending = self._pending(counts)
        return all(one.due is not None or one.last > k for _, one in pending)

    def _pending(self, counts: tuple[int, ...]) -> list[tuple[int, Chore]]:
        """The next chore of each chain that has one."""
        return [
            (i, chain[count])
            for i, (chain, count) in enumerate(zip(self.chains, counts, strict=True))
            if count < len(chain)
        ]

    def _after(self, state: _State, i: int, k: int) -> _State:
        """The state once the next chore of a chain is done."""
        counts, spent = state
        done = tuple(c + (j == i) for j, c in enumerate(counts))
        return self._lapsed(k, done), spent + self.chains[i][counts[i]].steps

    def _levels(self) -> list[list[_State]]:
        """The states that can be met after each number of exposures."""
        first = self._lapsed(0, (0,) * len(self.chains)), 0
        level = {first: None}
        levels = []
        for k in range(len(self.which) + 1):
            queue = list(level)
            for state in queue:  # grows as it is read
                for i, one in self._pending(state[0]):
                    if one.first <= k < len(self.which):
                        other = self._after(state, i, k)
                        if other not in level:
                            level[other] = None
                            queue.append(other)
            levels.append(sorted(queue, key=lambda state: sum(state[0])))
            level = {
                (self._lapsed(k + 1, counts), spent): None
                for counts, spent in queue
                if self._may_expose(k, counts)
            }
        return levels

    # --- backward, then forward ----------------------------------------------------

    def best(self) -> Placement:
        """Work back from the end, then follow the choices from the start."""
        ahead = {state: np.zeros(self.width) for state in self.levels[-1]}
        for k in reversed(range(len(self.which))):
            here: dict[_State, Floats] = {}
            chosen: dict[_State, NDArray[np.uint8]] = {}
            for state in reversed(self.levels[k]):
                here[state], chosen[state] = self._node(k, state, here, ahead)
            self.choices.append(chosen)
            ahead = here
        self.choices.reverse()
        start = self.levels[0][0]
        return self._followed(start, float(ahead[start][0]))

    def _node(
        self,
        k: int,
        state: _State,
        here: dict[_State, Floats],
        ahead: dict[_State, Floats],
    ) -> tuple[Floats, NDArray[np.uint8]]:
        """What is best after ``k`` exposures, for each number of steps held."""
        time = int(self.busy[k]) + state[1] + self.held
        best = np.zeros(self.width)
        choice = np.full(self.width, _STOP, dtype=np.uint8)
        if self._may_expose(k, state[0]):
            value = self._exposed(k, state, time, ahead)
            choice = np.where(value >= best, np.uint8(_EXPOSE), choice)
            best = np.maximum(best, value)
        for i, one in self._pending(state[0]):
            if one.first <= k:
                value = here[self._after(state, i, k)]
                tie = _TIE if one.due is None else -_TIE  # what is due is done soon
                better = (time >= one.not_before) & (value > best + tie)
                best = np.where(better, value, best)
                choice = np.where(better, np.uint8(_CHORE + i), choice)
        return self._or_held(best, choice)

    def _exposed(
        self, k: int, state: _State, time: NDArray[np.int_], ahead: dict[_State, Floats]
    ) -> Floats:
        """The value from here on if exposure ``k`` begins now; -inf where it cannot."""
        counts, spent = state
        value = self.values[self.which[k], time]
        for _, one in self._pending(counts):
            if one.due is not None and one.first <= k:
                value = np.where(time < one.due, value, -np.inf)
        return np.asarray(value + ahead[self._lapsed(k + 1, counts), spent])

    def _or_held(
        self, best: Floats, choice: NDArray[np.uint8]
    ) -> tuple[Floats, NDArray[np.uint8]]:
        """The same, where a later moment is better by more than the wait to it."""
        level = best - self.price * self.held
        ceiling = np.maximum.accumulate(level[::-1])[::-1]
        hold = ceiling > level + _TIE
        choice = np.where(hold, np.uint8(_HOLD), choice)
        return np.where(hold, ceiling + self.price * self.held, best), choice

    def _followed(self, state: _State, value: float) -> Placement:
        starts = [-1] * len(self.which)
        chores = [[-1] * len(chain) for chain in self.chains]
        k = held = 0
        while k < len(self.which):
            choice = int(self.choices[k][state][held])
            time = int(self.busy[k]) + state[1] + held
            if choice == _STOP:
                break
            if choice == _HOLD:
                held += 1
            elif choice == _EXPOSE:
                starts[k] = time
                k += 1
                state = self._lapsed(k, state[0]), state[1]
            else:
                i = choice - _CHORE
                chores[i][state[0][i]] = time
                state = self._after(state, i, k)
        return Placement(
            starts=tuple(starts),
            chores=tuple(tuple(chain) for chain in chores),
            value=value,
            held=held,
        )


def _over(chore: Chore, k: int) -> bool:
    """Whether a chore is no longer needed after ``k`` exposures."""
    return chore.due is not None and k > chore.last
