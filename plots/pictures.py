"""The pH pictures of a plot: geometry only, drawn by `templates/parts/ph_svg.html` and coloured by the stylesheet.

Numbers in, positions and words out: no Django, no clock, no style. The large picture is made twice, wide for a desk
and narrow for a phone, because a scaled-down picture has unreadable figures on it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from plots.figures import bare, quantity

Test = tuple[dt.date, float, float]
"""Date, pH, and its error (half the width of the bar, in pH; 0 for none)."""
Dressing = tuple[dt.date, str, float, str]
"""Date, what it was, lb per acre, and kind ("lime" or "fertilizer")."""
BandPoint = tuple[dt.date, float, float, float]
"""Date, and the low edge, median and high edge of the forecast pH."""
Anchor = Literal["start", "middle", "end"]

NARROW_WIDTH, NARROW_HEIGHT = 340, 300
_AXIS_ROOM, _WORDS_ROOM = 34.0, 112.0  # px left for the pH figures, right for the words of the lines
_TOP_ROOM, _BOTTOM_ROOM, _STRIP_ROOM = 40.0, 26.0, 62.0
_BIGGEST_MARK, _SMALLEST_MARK = 8.0, 3.0
_LINE = 14.0  # px from one line of words to the next
_LETTER = 6.6  # px, about, of a letter at 12 px


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
        width = len(self.text) * _LETTER
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
        for row in (*self.tests, *self.dressings, *self.band):
            yield row[0]
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


def _frame(facts: Facts, *, width: int, height: int, narrow: bool) -> Frame:
    days = list(facts.days())
    pad = dt.timedelta(days=max(30, (max(days) - min(days)).days // 25))
    values = list(facts.values()) or [5.5, 7.0]
    low, high = math.floor(min(values) * 2 - 0.2) / 2, math.ceil(max(values) * 2 + 0.2) / 2
    right = width - (4.0 if narrow else _WORDS_ROOM)
    bottom = height - _BOTTOM_ROOM - (_STRIP_ROOM if facts.dressings else 0.0)
    return Frame(_AXIS_ROOM, right, _TOP_ROOM, bottom, min(days) - pad, max(days) + pad, low, max(high, low + 1))


def _ph_ticks(frame: Frame) -> tuple[Tick, ...]:
    steps = round((frame.high - frame.low) * 2)
    return tuple(Tick(frame.y(frame.low + n / 2), f"{frame.low + n / 2:.1f}") for n in range(steps + 1))


def _date_ticks(frame: Frame) -> tuple[Tick, ...]:
    px_per_month = frame.width / max(1, (frame.last - frame.first).days) * 30.44
    step = next((m for m in (3, 6, 12, 24, 36, 60, 120) if m * px_per_month >= (66 if m < 12 else 44)), 240)
    month = frame.first.year * 12 // step * step
    ticks = []
    while (day := dt.date(month // 12, month % 12 + 1, 1)) <= frame.last:
        if day >= frame.first:
            ticks.append(Tick(frame.x(day), f"{day:%b %Y}" if step < 12 else str(day.year)))
        month += step
    return tuple(ticks)


def _words(day: dt.date) -> str:
    return f"{day:%b} {day.day}, {day.year}"


def _test_marks(frame: Frame, tests: Sequence[Test]) -> tuple[TestMark, ...]:
    return tuple(
        TestMark(
            frame.x(day),
            frame.y(ph),
            frame.y(ph + error),
            frame.y(ph - error),
            f"{_words(day)}: pH {bare(ph, 'pH')}" + (f" ± {bare(error, 'pH')}" if error else ""),
        )
        for day, ph, error in tests
    )


def _dressing_marks(frame: Frame, dressings: Sequence[Dressing]) -> tuple[DressingMark, ...]:
    most = max((amount for _, _, amount, _ in dressings), default=0) or 1
    return tuple(
        DressingMark(
            frame.x(day),
            frame.bottom + 34,
            round(max(_SMALLEST_MARK, _BIGGEST_MARK * math.sqrt(max(0.0, amount) / most)), 1),
            "lime" if kind == "lime" else "fertilizer",
            f"{_words(day)}: {label}, {quantity(amount, 'lb/acre')}",
        )
        for day, label, amount, kind in dressings
    )


def _kept_apart(says: Sequence[Say]) -> tuple[Say, ...]:
    """Of words in one line, those that do not run into an earlier one of the sequence."""
    kept: list[Say] = []
    for say in says:
        left, right = say.room()
        if all(right + 4 < other.room()[0] or left - 4 > other.room()[1] for other in kept):
            kept.append(say)
    return tuple(kept)


def _test_says(tests: Sequence[Test], marks: Sequence[TestMark]) -> tuple[Say, ...]:
    """The pH over each bar, newest first, as far as there is room."""
    return _kept_apart(
        [
            Say(bare(test[1], "pH"), mark.x, round(mark.top - 5, 1), "middle", "strong")
            for test, mark in zip(reversed(tests), reversed(marks), strict=True)
        ]
    )


def _dressing_says(frame: Frame, dressings: Sequence[Dressing], marks: Sequence[DressingMark]) -> Iterator[Say]:
    """Amount and name under each mark, the heaviest first, as far as there is room."""
    by_weight = sorted(zip(dressings, marks, strict=True), key=lambda pair: -pair[0][2])
    kept: list[Say] = []
    for (_, label, amount, _), mark in by_weight:
        lines = (quantity(amount, "lb/acre"), label)
        longest = max(lines, key=len)
        say = _inside(Say(longest, mark.x, mark.y, "middle", "strong"), frame.left - 20, frame.right + 4)
        if say not in _kept_apart([*kept, say]):
            continue
        kept.append(say)
        for row, line in enumerate(lines):
            kind = "strong" if row == 0 else "soft"
            yield replace(say, text=line, y=round(mark.y + _BIGGEST_MARK + 6 + (row + 0.5) * _LINE, 1), kind=kind)


def _inside(say: Say, left: float, right: float) -> Say:
    """The same words, hung by another end if they would stick out of the picture."""
    begins, ends = say.room()
    if ends > right:
        return replace(say, x=right, anchor="end")
    return replace(say, x=left, anchor="start") if begins < left else say


def _line_says(facts: Facts, frame: Frame, narrow: bool) -> tuple[Say, ...]:
    """Target, floor and forecast at the right of their lines, pushed apart where they would overlap."""
    wanted = [("target", facts.target), ("floor", facts.floor)]
    if facts.band and not narrow:
        wanted.append(("forecast", facts.band[-1][2]))
    placed: list[Say] = []
    for word, ph in sorted(((w, p) for w, p in wanted if p is not None), key=lambda pair: -pair[1]):
        y = frame.y(ph) + (-4 if narrow else 4)
        y = max(y, placed[-1].y + _LINE) if placed else y
        x, anchor = (frame.left + 4, "start") if narrow else (frame.right + 8, "start")
        placed.append(Say(f"{word} {bare(ph, 'pH')}", x, round(y, 1), anchor, word))
    return tuple(placed)


def _top_says(facts: Facts, frame: Frame) -> Iterator[Say]:
    yield _inside(Say("today", frame.x(facts.today), frame.top - 6, "middle", "soft"), frame.left, frame.right)
    if facts.retest_on:
        said = f"retest {_words(facts.retest_on)}"
        say = Say(said, frame.x(facts.retest_on), frame.top - 6 - _LINE, "middle", "retest")
        yield _inside(say, frame.left, frame.right)


def _points(pairs: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in pairs)


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _described(facts: Facts) -> str:
    """The picture in words, for those who cannot see it and as its caption."""
    said = ["No test yet."]
    if facts.tests:
        (first_on, first, _), (last_on, last, _) = facts.tests[0], facts.tests[-1]
        said = [f"{_counted(len(facts.tests), 'test')}: pH {bare(first, 'pH')} in {first_on:%B %Y}"]
        said[0] += f", {bare(last, 'pH')} in {last_on:%B %Y}." if len(facts.tests) > 1 else "."
    if facts.target is not None:
        said.append(f"Target {bare(facts.target, 'pH')}.")
    if facts.dressings:
        said.append(f"{_counted(len(facts.dressings), 'dressing')} spread.")
    if facts.band:
        day, low, median, high = facts.band[-1]
        said.append(
            f"Forecast for {day:%B %Y}: pH {bare(median, 'pH')}, in four cases of five between {bare(low, 'pH')} and "
            f"{bare(high, 'pH')}."
        )
    if facts.retest_on:
        said.append(f"Retest due {facts.retest_on:%B} {facts.retest_on.day}, {facts.retest_on.year}.")
    return " ".join(said)


def _zone(facts: Facts, frame: Frame) -> tuple[float, float] | None:
    if facts.target is None or facts.upper is None or facts.upper <= facts.target:
        return None
    return frame.y(facts.upper), round(frame.y(facts.target) - frame.y(facts.upper), 1)


def _drawn(facts: Facts, identity: str, *, width: int, height: int, narrow: bool) -> Picture:
    frame = _frame(facts, width=width, height=height, narrow=narrow)
    tests = _test_marks(frame, facts.tests)
    dressings = _dressing_marks(frame, facts.dressings)
    above = [(frame.x(day), frame.y(high)) for day, _, _, high in facts.band]
    below = [(frame.x(day), frame.y(low)) for day, low, _, _ in reversed(facts.band)]
    return Picture(
        identity=f"{identity}-{'narrow' if narrow else 'wide'}",
        width=width,
        height=height,
        frame=frame,
        title="Soil pH over the years",
        description=_described(facts),
        says=(
            *_top_says(facts, frame),
            *_line_says(facts, frame, narrow),
            *_test_says(facts.tests, tests),
            *_dressing_says(frame, facts.dressings, dressings),
        ),
        ph_ticks=_ph_ticks(frame),
        date_ticks=_date_ticks(frame),
        zone=_zone(facts, frame),
        target_y=None if facts.target is None else frame.y(facts.target),
        floor_y=None if facts.floor is None else frame.y(facts.floor),
        band=_points(above + below),
        median=_points([(frame.x(day), frame.y(median)) for day, _, median, _ in facts.band]),
        trace=_points([(mark.x, mark.y) for mark in tests]),
        tests=tests,
        dressings=dressings,
        today_x=frame.x(facts.today),
        retest_x=frame.x(facts.retest_on) if facts.retest_on else None,
        test_rows=tuple((d, bare(ph, "pH"), bare(e, "pH") if e else "") for d, ph, e in facts.tests),
        dressing_rows=tuple((d, label, quantity(lb, "lb/acre")) for d, label, lb, _ in facts.dressings),
        band_rows=tuple((d, bare(lo, "pH"), bare(mid, "pH"), bare(hi, "pH")) for d, lo, mid, hi in facts.band),
    )


def ph_picture(
    tests: Sequence[Test],
    dressings: Sequence[Dressing],
    band: Sequence[BandPoint],
    *,
    target: float | None,
    floor: float | None,
    upper: float | None,
    today: dt.date,
    retest_on: dt.date | None,
    width: int = 800,
    height: int = 340,
    identity: str = "ph",
) -> Picture:
    """The picture of a plot's pH: tests with error bars, dressings, forecast band, target zone, floor and retest.

    Sequences may be empty and in any order. `identity` keeps element ids apart where a page has several pictures.
    Raises `ValueError` for a size too small to draw on (below 320 px wide or 240 px high).
    """
    if width < 320 or height < 240:
        raise ValueError(f"a pH picture is at least 320 px wide and 240 px high, not {width} by {height}")
    facts = Facts(sorted(tests), sorted(dressings), sorted(band), target, floor, upper, today, retest_on)
    if width <= NARROW_WIDTH:
        return _drawn(facts, identity, width=width, height=height, narrow=True)
    wide = _drawn(facts, identity, width=width, height=height, narrow=False)
    narrow = _drawn(facts, identity, width=NARROW_WIDTH, height=min(height, NARROW_HEIGHT), narrow=True)
    return replace(wide, narrow=narrow)


@dataclass(frozen=True, slots=True)
class Spark:
    """A plot's pH in the space of a word, for a row of the season review."""

    width: int
    height: int
    trace: str
    dots: tuple[tuple[float, float], ...]
    last: tuple[float, float] | None
    target_y: float | None
    said: str


def ph_spark(
    tests: Sequence[tuple[dt.date, float]], *, target: float | None, width: int = 96, height: int = 24
) -> Spark:
    """A small picture of a pH series: a line, a dot a test, the target as a dashed line.

    All sparks span at least one whole pH, so that noise between two tests does not look like a change.
    """
    if not tests:
        return Spark(width, height, "", (), None, None, "no pH yet")
    tests = sorted(tests)
    values = [ph for _, ph in tests] + ([] if target is None else [target])
    middle, half = (min(values) + max(values)) / 2, max(0.5, (max(values) - min(values)) / 2)
    last_day = max(tests[-1][0], tests[0][0] + dt.timedelta(days=1))
    frame = Frame(3.0, width - 4.0, 3.0, height - 3.0, tests[0][0], last_day, middle - half, middle + half)
    dots = tuple((frame.x(day) if len(tests) > 1 else frame.right, frame.y(ph)) for day, ph in tests)
    said = "pH " + ", ".join(f"{bare(ph, 'pH')} in {day.year}" for day, ph in tests)
    return Spark(
        width,
        height,
        _points(dots),
        dots[:-1],
        dots[-1],
        None if target is None else frame.y(target),
        said,
    )
