"""The picture of a plot's pH over the years, wide for a desk and narrow for a phone."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace

from plots.figures import bare, quantity
from plots.pictures.parts import (
    BandPoint,
    Dressing,
    DressingMark,
    Facts,
    Frame,
    Picture,
    Test,
    TestMark,
    Tick,
    points,
)  # fmt: skip
from plots.pictures.words import (
    BIGGEST_MARK,
    day_words,
    described,
    dressing_says,
    line_says,
    test_says,
    top_says,
)  # fmt: skip

NARROW_WIDTH, NARROW_HEIGHT = 340, 300
_AXIS_ROOM, _WORDS_ROOM = 34.0, 112.0  # px left for the pH figures, right for the words of the lines
_TOP_ROOM, _BOTTOM_ROOM, _STRIP_ROOM = 40.0, 26.0, 62.0
_SMALLEST_MARK = 3.0


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


def _test_marks(frame: Frame, tests: Sequence[Test]) -> tuple[TestMark, ...]:
    return tuple(
        TestMark(
            frame.x(day),
            frame.y(ph),
            frame.y(ph + error),
            frame.y(ph - error),
            f"{day_words(day)}: pH {bare(ph, 'pH')}" + (f" ± {bare(error, 'pH')}" if error else ""),
        )
        for day, ph, error in tests
    )


def _dressing_marks(frame: Frame, dressings: Sequence[Dressing]) -> tuple[DressingMark, ...]:
    most = max((amount for _, _, amount, _ in dressings), default=0) or 1
    return tuple(
        DressingMark(
            frame.x(day),
            frame.bottom + 34,
            round(max(_SMALLEST_MARK, BIGGEST_MARK * math.sqrt(max(0.0, amount) / most)), 1),
            "lime" if kind == "lime" else "fertilizer",
            f"{day_words(day)}: {label}, {quantity(amount, 'lb/acre')}",
        )
        for day, label, amount, kind in dressings
    )


def _zone(facts: Facts, frame: Frame) -> tuple[float, float] | None:
    if facts.target is None or facts.upper is None or facts.upper <= facts.target:
        return None
    return frame.y(facts.upper), round(frame.y(facts.target) - frame.y(facts.upper), 1)


def _drawn(facts: Facts, identity: str, *, width: int, height: int, narrow: bool) -> Picture:
    frame = _frame(facts, width=width, height=height, narrow=narrow)
    tests = _test_marks(frame, facts.tests)
    dressings = _dressing_marks(frame, facts.dressings)
    lines = line_says(facts, frame, narrow)
    above = [(frame.x(day), frame.y(high)) for day, _, _, high in facts.band]
    below = [(frame.x(day), frame.y(low)) for day, low, _, _ in reversed(facts.band)]
    return Picture(
        identity=f"{identity}-{'narrow' if narrow else 'wide'}",
        width=width,
        height=height,
        frame=frame,
        title="Soil pH over the years",
        description=described(facts),
        says=(
            *top_says(facts, frame),
            *lines,
            *test_says(facts.tests, tests, avoid=lines),
            *dressing_says(frame, facts.dressings, dressings),
        ),
        ph_ticks=_ph_ticks(frame),
        date_ticks=_date_ticks(frame),
        zone=_zone(facts, frame),
        target_y=None if facts.target is None else frame.y(facts.target),
        floor_y=None if facts.floor is None else frame.y(facts.floor),
        band=points(above + below),
        median=points([(frame.x(day), frame.y(median)) for day, _, median, _ in facts.band]),
        trace=points([(mark.x, mark.y) for mark in tests]),
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
