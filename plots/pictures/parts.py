"""What a picture is made of: marks, words and lines at positions in px, and the frame that places them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

Test = tuple[dt.date, float, float]
"""Date, pH, and its error (half the width of the bar, in pH; 0 for none)."""
Dressing = tuple[dt.date, str, float, str]
"""Date, what it was, lb per acre, and kind ("lime" or "fertilizer")."""
BandPoint = tuple[dt.date, float, float, float]
"""Date, and the low edge, median and high edge of the forecast pH."""
Anchor = Literal["start", "middle", "end"]

LETTER = 6.6
"""Px, about, of a letter at 12 px."""


@dataclass(frozen=True, slots=True)
class Say:
    """Words on the picture; `kind` tells what they belong to and so their colour."""

    text: str
    x: float
    y: float
    anchor: Anchor
    kind: str

    def room(self) -> tuple[float, float]:
        """The stretch of px that the words take up, left and right."""
        width = len(self.text) * LETTER
        left = {"start": self.x, "middle": self.x - width / 2, "end": self.x - width}[self.anchor]
        return left, left + width


@dataclass(frozen=True, slots=True)
class Tick:
    at: float
    label: str


@dataclass(frozen=True, slots=True)
class TestMark:
    x: float
    y: float
    top: float
    bottom: float
    said: str


@dataclass(frozen=True, slots=True)
class DressingMark:
    x: float
    y: float
    size: float
    kind: str
    said: str

    @property
    def corner_x(self) -> float:
        return round(self.x - self.size, 1)

    @property
    def corner_y(self) -> float:
        return round(self.y - self.size, 1)

    @property
    def side(self) -> float:
        return round(2 * self.size, 1)


@dataclass(frozen=True, slots=True)
class Frame:
    """From dates and pH to px; what lies outside is brought to the edge."""

    left: float
    right: float
    top: float
    bottom: float
    first: dt.date
    last: dt.date
    low: float
    high: float

    def x(self, day: dt.date) -> float:
        share = (day - self.first).days / max(1, (self.last - self.first).days)
        return round(self.left + min(1.0, max(0.0, share)) * (self.right - self.left), 1)

    def y(self, ph: float) -> float:
        share = (ph - self.low) / (self.high - self.low)
        return round(self.bottom - min(1.0, max(0.0, share)) * (self.bottom - self.top), 1)

    @property
    def width(self) -> float:
        return round(self.right - self.left, 1)


@dataclass(frozen=True, slots=True)
class Facts:
    """What a picture shows, in order of time."""

    tests: Sequence[Test]
    dressings: Sequence[Dressing]
    band: Sequence[BandPoint]
    target: float | None
    floor: float | None
    upper: float | None
    today: dt.date
    retest_on: dt.date | None

    def days(self) -> Iterator[dt.date]:
        """Every date that must be on the picture."""
        yield self.today
        yield from (day for day, *_ in self.tests)
        yield from (day for day, *_ in self.dressings)
        yield from (day for day, *_ in self.band)
        if self.retest_on:
            yield self.retest_on

    def values(self) -> Iterator[float]:
        """Every pH that must be on the picture; the upper limit may lie outside."""
        for _, ph, error in self.tests:
            yield from (ph - error, ph + error)
        for _, low, _, high in self.band:
            yield from (low, high)
        yield from (ph for ph in (self.target, self.floor) if ph is not None)


@dataclass(frozen=True, slots=True)
class Picture:
    """Everything that the template draws."""

    identity: str
    width: int
    height: int
    frame: Frame
    title: str
    description: str
    says: tuple[Say, ...]
    ph_ticks: tuple[Tick, ...]
    date_ticks: tuple[Tick, ...]
    zone: tuple[float, float] | None  # top and height
    target_y: float | None
    floor_y: float | None
    band: str
    median: str
    trace: str
    tests: tuple[TestMark, ...]
    dressings: tuple[DressingMark, ...]
    today_x: float
    retest_x: float | None
    test_rows: tuple[tuple[dt.date, str, str], ...]
    dressing_rows: tuple[tuple[dt.date, str, str], ...]
    band_rows: tuple[tuple[dt.date, str, str, str], ...]
    narrow: Picture | None = None

    @property
    def figures_x(self) -> float:
        """Where the figures of the pH axis end."""
        return self.frame.left - 8

    @property
    def tick_bottom(self) -> float:
        return self.frame.bottom + 5


def points(pairs: Sequence[tuple[float, float]]) -> str:
    """Positions as an SVG `points` attribute."""
    return " ".join(f"{x},{y}" for x, y in pairs)
