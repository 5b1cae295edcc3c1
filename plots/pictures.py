"""The pH picture of a plot: geometry only, drawn by `templates/parts/picture.html` and coloured by the stylesheet.

Numbers in, numbers and words out: no Django, no style. The same picture is made wide for a desk and narrow for a
phone, because a scaled-down picture has unreadable figures on it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from plots.figures import bare, quantity

Test = tuple[dt.date, float, float]
"""Date, pH, and its error (half the width of the bar, in pH; 0 for none)."""
Dressing = tuple[dt.date, str, float, str]
"""Date, what it was, lb per acre, and kind ("lime" or "fertilizer")."""
BandPoint = tuple[dt.date, float, float, float]
"""Date, and the low edge, median and high edge of the forecast pH."""

NARROW_WIDTH = 340
_BIGGEST_MARK, _SMALLEST_MARK = 8.0, 3.0
_LABEL_GAP = 74.0  # px a dressing's written amount needs


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
    label: str
    said: str


@dataclass(frozen=True, slots=True)
class DressingMark:
    x: float
    y: float
    size: float
    kind: str
    label: str
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

    @property
    def label_y(self) -> float:
        return round(self.y + _BIGGEST_MARK + 13, 1)


@dataclass(frozen=True, slots=True)
class Level:
    """A horizontal line with its words at the right."""

    y: float
    label: str
    label_y: float


@dataclass(frozen=True, slots=True)
class Zone:
    y: float
    height: float


@dataclass(frozen=True)
class Picture:
    """Everything that the template draws; positions in px from the top left."""

    identity: str
    width: int
    height: int
    left: float
    right: float
    top: float
    bottom: float
    strip_y: float
    title: str
    description: str
    ph_ticks: tuple[Tick, ...] = ()
    date_ticks: tuple[Tick, ...] = ()
    zone: Zone | None = None
    target: Level | None = None
    floor: Level | None = None
    band: str = ""
    median: str = ""
    median_label: Tick | None = None
    trace: str = ""
    tests: tuple[TestMark, ...] = ()
    dressings: tuple[DressingMark, ...] = ()
    today_x: float | None = None
    retest_x: float | None = None
    retest_label: str = ""
    test_rows: tuple[tuple[dt.date, str, str], ...] = ()
    dressing_rows: tuple[tuple[dt.date, str, str], ...] = ()
    band_rows: tuple[tuple[dt.date, str, str, str], ...] = ()
    narrow: Picture | None = None
    is_narrow: bool = False

    @property
    def level_x(self) -> float:
        """Where the words of target and floor stand: right of the drawing, or inside it on a phone."""
        return self.right if self.is_narrow else self.right + 8

    @property
    def plot_width(self) -> float:
        return round(self.right - self.left, 1)

    @property
    def plot_height(self) -> float:
        return round(self.bottom - self.top, 1)

    @property
    def tick_x(self) -> float:
        """Where the figures of the pH axis end."""
        return self.left - 8

    @property
    def tick_bottom(self) -> float:
        return self.bottom + 5


@dataclass(frozen=True, slots=True)
class Frame:
    """From dates and pH to positions."""

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
        return round(self.left + share * (self.right - self.left), 1)

    def y(self, ph: float) -> float:
        share = (ph - self.low) / (self.high - self.low)
        return round(self.bottom - share * (self.bottom - self.top), 1)


def _ph_range(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    low, high = math.floor(low * 2 - 0.2) / 2, math.ceil(high * 2 + 0.2) / 2
    return low, high if high - low >= 1 else low + 1


def _date_range(days: Sequence[dt.date]) -> tuple[dt.date, dt.date]:
    first, last = min(days), max(days)
    pad = max(30, (last - first).days // 25)
    return first - dt.timedelta(days=pad), last + dt.timedelta(days=pad)


def _frame(
    days: Sequence[dt.date], values: Sequence[float], *, width: int, height: int, narrow: bool, strip: bool
) -> Frame:
    first, last = _date_range(days)
    low, high = _ph_range(values)
    right = width - (12.0 if narrow else 96.0)
    return Frame(34.0, right, 26.0, height - (66.0 if strip else 24.0), first, last, low, high)


def _ph_ticks(frame: Frame) -> tuple[Tick, ...]:
    steps = round((frame.high - frame.low) * 2)
    return tuple(Tick(frame.y(frame.low + n / 2), f"{frame.low + n / 2:.1f}") for n in range(steps + 1))


def _date_ticks(frame: Frame, narrow: bool) -> tuple[Tick, ...]:
    years = [y for y in range(frame.first.year, frame.last.year + 1) if dt.date(y, 1, 1) >= frame.first]
    room = (frame.right - frame.left) / (46 if narrow else 52)
    step = max(1, math.ceil(len(years) / room))
    return tuple(Tick(frame.x(dt.date(y, 1, 1)), str(y)) for y in years[::step] if dt.date(y, 1, 1) <= frame.last)


def _level(frame: Frame, ph: float, word: str, push: float = 0) -> Level:
    y = frame.y(ph)
    return Level(y, f"{word} {bare(ph, 'pH')}", round(y + 4 + push, 1))


def _tests(frame: Frame, tests: Sequence[Test]) -> tuple[TestMark, ...]:
    marks = []
    for day, ph, error in tests:
        said = f"{day:%b} {day.day}, {day.year}: pH {bare(ph, 'pH')}" + (f" ± {bare(error, 'pH')}" if error else "")
        top, bottom = frame.y(min(ph + error, frame.high)), frame.y(max(ph - error, frame.low))
        marks.append(TestMark(frame.x(day), frame.y(ph), top, bottom, bare(ph, "pH"), said))
    return tuple(marks)


def _dressings(frame: Frame, dressings: Sequence[Dressing], y: float) -> tuple[DressingMark, ...]:
    most = max((amount for _, _, amount, _ in dressings), default=1) or 1
    marks: list[DressingMark] = []
    free_from = -math.inf
    for day, label, amount, kind in dressings:
        x = frame.x(day)
        size = max(_SMALLEST_MARK, _BIGGEST_MARK * math.sqrt(max(0.0, amount) / most))
        written = quantity(amount, "lb/acre")
        shown = written if x >= free_from else ""
        if shown:
            free_from = x + _LABEL_GAP
        said = f"{day:%b} {day.day}, {day.year}: {label}, {written}"
        marks.append(DressingMark(x, y, round(size, 1), kind, shown, said))
    return tuple(marks)


def _points(pairs: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in pairs)


def _described(
    tests: Sequence[Test],
    dressings: Sequence[Dressing],
    band: Sequence[BandPoint],
    target: float | None,
    retest_on: dt.date | None,
) -> str:
    said = []
    if tests:
        first, last = tests[0], tests[-1]
        said.append(
            f"{len(tests)} {'test' if len(tests) == 1 else 'tests'}: pH {bare(first[1], 'pH')} in {first[0]:%B %Y}"
            + (f", {bare(last[1], 'pH')} in {last[0]:%B %Y}." if len(tests) > 1 else ".")
        )
    else:
        said.append("No test yet.")
    if target is not None:
        said.append(f"Target {bare(target, 'pH')}.")
    if dressings:
        said.append(f"{len(dressings)} {'dressing' if len(dressings) == 1 else 'dressings'} spread.")
    if band:
        day, low, median, high = band[-1]
        said.append(
            f"Forecast for {day:%B %Y}: pH {bare(median, 'pH')}, four times in five between {bare(low, 'pH')} and "
            f"{bare(high, 'pH')}."
        )
    if retest_on:
        said.append(f"Retest due {retest_on:%B} {retest_on.day}, {retest_on.year}.")
    return " ".join(said)


@dataclass(frozen=True)
class _Facts:
    tests: Sequence[Test]
    dressings: Sequence[Dressing]
    band: Sequence[BandPoint]
    target: float | None
    floor: float | None
    upper: float | None
    today: dt.date
    retest_on: dt.date | None
    identity: str
    days: list[dt.date] = field(default_factory=list)
    values: list[float] = field(default_factory=list)


def _drawn(facts: _Facts, *, width: int, height: int, narrow: bool) -> Picture:
    strip = bool(facts.dressings)
    frame = _frame(facts.days, facts.values, width=width, height=height, narrow=narrow, strip=strip)
    tests = _tests(frame, facts.tests)
    zone = None
    if facts.target is not None and facts.upper is not None and facts.upper > facts.target:
        zone = Zone(frame.y(facts.upper), round(frame.y(facts.target) - frame.y(facts.upper), 1))
    edge = [(frame.x(day), frame.y(high)) for day, _, _, high in facts.band]
    back = [(frame.x(day), frame.y(low)) for day, low, _, _ in reversed(facts.band)]
    median = [(frame.x(day), frame.y(mid)) for day, _, mid, _ in facts.band]
    strip_y = frame.bottom + 34
    retest = facts.retest_on
    return Picture(
        identity=f"{facts.identity}-{'narrow' if narrow else 'wide'}",
        width=width,
        height=height,
        left=frame.left,
        right=frame.right,
        top=frame.top,
        bottom=frame.bottom,
        strip_y=strip_y,
        is_narrow=narrow,
        title="Soil pH over the years",
        description=_described(facts.tests, facts.dressings, facts.band, facts.target, retest),
        ph_ticks=_ph_ticks(frame),
        date_ticks=_date_ticks(frame, narrow),
        zone=zone,
        target=None if facts.target is None else _level(frame, facts.target, "target"),
        floor=None if facts.floor is None else _level(frame, facts.floor, "floor"),
        band=_points(edge + back),
        median=_points(median),
        median_label=Tick(median[-1][1], bare(facts.band[-1][2], "pH")) if median else None,
        trace=_points([(mark.x, mark.y) for mark in tests]),
        tests=tests,
        dressings=_dressings(frame, facts.dressings, strip_y),
        today_x=frame.x(facts.today),
        retest_x=frame.x(retest) if retest else None,
        retest_label=f"retest {retest:%b} {retest.year}" if retest else "",
        test_rows=tuple((d, bare(ph, "pH"), bare(error, "pH") if error else "") for d, ph, error in facts.tests),
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
    width: int = 760,
    height: int = 320,
    identity: str = "ph",
) -> Picture:
    """The picture of a plot's pH: tests with error bars, dressings, forecast band, target zone, floor and retest.

    Sequences may be empty and in any order. `identity` keeps element ids apart where a page has several pictures.
    Raises `ValueError` for a size too small to draw on (below 240 by 160 px).
    """
    if width < 240 or height < 160:
        raise ValueError("a pH picture is at least 240 px wide and 160 px high")
    tests, dressings, band = sorted(tests), sorted(dressings), sorted(band)
    days = [today, *(t[0] for t in tests), *(d[0] for d in dressings), *(b[0] for b in band)]
    values = [t[1] + s * t[2] for t in tests for s in (-1, 1)] + [v for b in band for v in (b[1], b[3])]
    values += [v for v in (target, floor) if v is not None]
    if retest_on:
        days.append(retest_on)
    facts = _Facts(
        tests, dressings, band, target, floor, upper, today, retest_on, identity, days, values or [5.5, 7.0]
    )
    wide = _drawn(facts, width=width, height=height, narrow=width <= NARROW_WIDTH)
    if width <= NARROW_WIDTH:
        return wide
    small = _drawn(facts, width=NARROW_WIDTH, height=min(height, 300), narrow=True)
    return Picture(**{**wide.__dict__, "narrow": small})


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
    """A small picture of a pH series: a line, a dot a test, the target as a dashed line."""
    tests = sorted(tests)
    values = [ph for _, ph in tests] + ([] if target is None else [target])
    if not tests:
        return Spark(width, height, "", (), None, None, "no pH yet")
    low, high = min(values) - 0.1, max(values) + 0.1
    first, last = tests[0][0], tests[-1][0]
    frame = Frame(3.0, width - 4.0, 3.0, height - 3.0, first, max(last, first + dt.timedelta(days=1)), low, high)
    dots = tuple((frame.x(day) if len(tests) > 1 else frame.right, frame.y(ph)) for day, ph in tests)
    return Spark(
        width,
        height,
        _points(dots),
        dots[:-1],
        dots[-1],
        None if target is None else frame.y(target),
        "pH " + ", ".join(f"{bare(ph, 'pH')} in {day.year}" for day, ph in tests),
    )
