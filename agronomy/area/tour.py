"""The order in which to drive to plots: to the nearest one first, then improved until no change shortens it."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from agronomy.area.shapes import WGS84, Position
from agronomy.units import convert

MOST_IMPROVED = 60
"""Up to so many stops the order is improved until nothing helps; beyond it in a few rounds only."""

_ROUNDS_BEYOND = 3
_MOST_STOPS = 600
_LONGEST_MOVE = 3
_SHAKES = 40
_FEWEST_TO_CUT = 10
_SHORTER_BY_M = 1e-6

Distances = Sequence[Sequence[float]]


@dataclass(frozen=True, slots=True)
class DrivingOrder:
    """The stops by their numbers in driving order, the start used (None: the first stop), and the way in miles.

    Miles are as the crow flies from the start to the last stop, and back if asked for.
    """

    order: tuple[int, ...]
    start: int | None
    miles: float


def driving_order(
    stops: Sequence[Position], *, starts: Sequence[Position] = (), back_to_start: bool = False
) -> DrivingOrder:
    """A short way over all stops from the best of the starts (access points), or from any stop if there is none.

    Positions are (longitude, latitude). At most 600 stops. The same input always gives the same order.
    """
    if len(stops) > _MOST_STOPS:
        raise ValueError(f"{len(stops)} stops are more than {_MOST_STOPS}")
    if not stops:
        return DrivingOrder((), None, 0.0)
    is_small = len(stops) <= MOST_IMPROVED
    tries = [_Try(start, stops, back_to_start, is_small) for start in starts or (None,)]
    best = min(range(len(tries)), key=lambda number: tries[number].metres)
    tour = tries[best]
    if is_small:
        tour.shake()
    miles = convert(tour.metres, quantity="length", from_unit="m", to_unit="mi")
    return DrivingOrder(tuple(node - 1 for node in tour.nodes[1:]), best if starts else None, miles)


class _Try:
    """The way from one start. Node 0 is the start and the stops follow it; without one, its distances are 0."""

    def __init__(self, start: Position | None, stops: Sequence[Position], back: bool, is_small: bool) -> None:
        self.apart = _distances([start or stops[0], *stops])
        if start is None:
            for number in range(len(self.apart)):
                self.apart[0][number] = self.apart[number][0] = 0.0
        self.returns = back and start is not None
        rounds = math.inf if is_small else _ROUNDS_BEYOND
        tours = [_improved(tour, self.apart, self.returns, rounds) for tour in _first_tours(self.apart)]
        self.nodes = min(tours, key=self._length)

    @property
    def metres(self) -> float:
        return self._length(self.nodes)

    def shake(self) -> None:
        """Throw the order about, improve it again and keep what is shorter, a set number of times."""
        draw = random.Random(0)  # the same stops give the same order
        for _ in range(_SHAKES):
            found = _improved(_thrown_about(self.nodes, draw), self.apart, self.returns, math.inf)
            if self._length(found) < self.metres - _SHORTER_BY_M:
                self.nodes = found

    def _length(self, tour: list[int]) -> float:
        return _length(tour, self.apart, self.returns)


def _thrown_about(tour: list[int], draw: random.Random) -> list[int]:
    """Two neighbouring stretches change places, which turning and moving single ones does not undo."""
    if len(tour) < _FEWEST_TO_CUT:
        return [0, *draw.sample(tour[1:], len(tour) - 1)]
    one, two, three = sorted(draw.sample(range(1, len(tour)), 3))
    return tour[:one] + tour[two:three] + tour[one:two] + tour[three:]


def _distances(places: list[Position]) -> list[list[float]]:
    """Metres between all places along geodesics."""
    count = len(places)
    ones = [place for place in places for _ in range(count)]
    others = places * count
    _, _, flat = WGS84.inv([x for x, _ in ones], [y for _, y in ones], [x for x, _ in others], [y for _, y in others])
    return [list(flat[row * count : (row + 1) * count]) for row in range(count)]


def _first_tours(apart: Distances) -> list[list[int]]:
    return [_nearest_first(apart), _cheapest_insertion(apart)]


def _nearest_first(apart: Distances) -> list[int]:
    tour, left = [0], set(range(1, len(apart)))
    while left:
        tour.append(min(left, key=lambda node: (apart[tour[-1]][node], node)))
        left.remove(tour[-1])
    return tour


def _cheapest_insertion(apart: Distances) -> list[int]:
    """Start with the stop furthest off, then put in each next furthest one where it costs least."""
    tour = [0]
    for node in sorted(range(1, len(apart)), key=lambda node: (-apart[0][node], node)):
        costs = [
            (apart[tour[place - 1]][node] + _leg(apart, node, tour, place) - _leg(apart, tour[place - 1], tour, place))
            for place in range(1, len(tour) + 1)
        ]
        tour.insert(costs.index(min(costs)) + 1, node)
    return tour


def _leg(apart: Distances, node: int, tour: list[int], place: int) -> float:
    return apart[node][tour[place]] if place < len(tour) else 0.0


def _length(tour: list[int], apart: Distances, returns: bool) -> float:
    way = math.fsum(apart[one][other] for one, other in pairwise(tour))
    return way + (apart[tour[-1]][tour[0]] if returns else 0.0)


def _improved(tour: list[int], apart: Distances, returns: bool, rounds: float) -> list[int]:
    """Turn stretches about and move short ones, as long as that shortens the way."""
    done = 0
    while done < rounds:
        turned = _turn_stretches(tour, apart, returns)
        moved = _move_stretches(tour, apart, returns)
        if not (turned or moved):
            break
        done += 1
    return tour


def _after(tour: list[int], place: int, returns: bool) -> int | None:
    """The node that follows a place; None past the end of a way that does not return."""
    if place + 1 < len(tour):
        return tour[place + 1]
    return tour[0] if returns else None


def _turn_stretches(tour: list[int], apart: Distances, returns: bool) -> bool:
    is_better = False
    for first in range(1, len(tour)):
        for last in range(first + 1, len(tour)):
            before, follower = tour[first - 1], _after(tour, last, returns)
            gain = apart[before][tour[first]] - apart[before][tour[last]]
            if follower is not None:
                gain += apart[tour[last]][follower] - apart[tour[first]][follower]
            if gain > _SHORTER_BY_M:
                tour[first : last + 1] = tour[first : last + 1][::-1]
                is_better = True
    return is_better


def _move_stretches(tour: list[int], apart: Distances, returns: bool) -> bool:
    is_better = False
    for size in range(1, _LONGEST_MOVE + 1):
        for first in range(1, len(tour) - size + 1):
            is_better |= _move_one(tour, apart, returns, first, size)
    return is_better


def _move_one(tour: list[int], apart: Distances, returns: bool, first: int, size: int) -> bool:
    """Move the stretch to where it costs least, either way about, if that shortens the way."""
    stretch = tour[first : first + size]
    head, tail = stretch[0], stretch[-1]
    before, follower = tour[first - 1], _after(tour, first + size - 1, returns)
    saved = apart[before][head]
    if follower is not None:
        saved += apart[tail][follower] - apart[before][follower]
    rest = tour[:first] + tour[first + size :]
    best_gain, best_place, is_turned = _SHORTER_BY_M, 0, False
    for place in range(1, len(rest) + 1):
        one, other = rest[place - 1], _after(rest, place - 1, returns)
        for turned in (False, True):
            near, far = (tail, head) if turned else (head, tail)
            cost = apart[one][near]
            if other is not None:
                cost += apart[far][other] - apart[one][other]
            if saved - cost > best_gain:
                best_gain, best_place, is_turned = saved - cost, place, turned
    if not best_place:
        return False
    tour[:] = rest[:best_place] + (stretch[::-1] if is_turned else stretch) + rest[best_place:]
    return True
