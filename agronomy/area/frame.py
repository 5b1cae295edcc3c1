"""A flat frame of metres about one place, good to a millimetre or so over the size of a plot."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from agronomy.area.shapes import WGS84, Position


@dataclass(frozen=True, slots=True)
class Frame:
    """Metres east and north of a position, by the ellipsoid's radii there."""

    longitude: float
    latitude: float
    m_a_degree_east: float
    m_a_degree_north: float

    @classmethod
    def about(cls, positions: Iterable[Position]) -> Frame:
        """The frame about the middle of some positions, also across the 180th meridian."""
        places = list(positions)
        longitude = places[0][0]
        east = [_turn(x - longitude) for x, _ in places]
        middle = longitude + (min(east) + max(east)) / 2
        latitude = (min(y for _, y in places) + max(y for _, y in places)) / 2
        radians = math.radians(latitude)
        flat = 1 - WGS84.es * math.sin(radians) ** 2
        prime_vertical = WGS84.a / math.sqrt(flat)
        meridian = WGS84.a * (1 - WGS84.es) / flat**1.5
        return cls(middle, latitude, math.radians(prime_vertical * math.cos(radians)), math.radians(meridian))

    def to_m(self, position: Position) -> Position:
        """Degrees to metres east and north."""
        east = _turn(position[0] - self.longitude) * self.m_a_degree_east
        return east, (position[1] - self.latitude) * self.m_a_degree_north

    def to_degrees(self, point: Position) -> Position:
        """Metres east and north to degrees."""
        longitude = self.longitude + point[0] / self.m_a_degree_east
        return _turn(longitude), self.latitude + point[1] / self.m_a_degree_north


def _turn(degrees: float) -> float:
    return (degrees + 180) % 360 - 180 if not -180 <= degrees <= 180 else degrees
