"""The words on a picture, kept apart where they would run into each other, and the picture told in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import replace

from plots.figures import bare, quantity
from plots.pictures.parts import Dressing, DressingMark, Facts, Frame, Say, Test, TestMark

LINE = 14.0
"""Px from one line of words to the next."""
BIGGEST_MARK = 8.0
"""Px, half the size of the heaviest dressing's mark."""


def day_words(day: dt.date) -> str:
    """A day as "Mar 20, 2026"."""
    return f"{day:%b} {day.day}, {day.year}"


def is_free(say: Say, kept: Sequence[Say]) -> bool:
    """Whether words in one line run into none of those kept."""
    left, right = say.room()
    return all(right + 4 < other.room()[0] or left - 4 > other.room()[1] for other in kept)


def test_says(tests: Sequence[Test], marks: Sequence[TestMark], *, avoid: Sequence[Say]) -> tuple[Say, ...]:
    """The pH over each bar, newest first, as far as there is room; under it where a line's words are in the way."""
    kept: list[Say] = []
    for (_, ph, _), mark in zip(reversed(tests), reversed(marks), strict=True):
        say = Say(bare(ph, "pH"), mark.x, round(mark.top - 5, 1), "middle", "strong")
        if not is_free(say, kept):
            continue
        if not is_free(say, [other for other in avoid if abs(other.y - say.y) < LINE]):
            say = replace(say, y=round(mark.bottom + LINE, 1))
        kept.append(say)
    return tuple(kept)


def dressing_says(frame: Frame, dressings: Sequence[Dressing], marks: Sequence[DressingMark]) -> Iterator[Say]:
    """Amount and name under each mark, the heaviest first, as far as there is room."""
    by_weight = sorted(zip(dressings, marks, strict=True), key=lambda pair: -pair[0][2])
    kept: list[Say] = []
    for (_, label, amount, _), mark in by_weight:
        lines = (quantity(amount, "lb/acre"), label)
        longest = max(lines, key=len)
        say = _inside(Say(longest, mark.x, mark.y, "middle", "strong"), frame.left - 20, frame.right + 4)
        if not is_free(say, kept):
            continue
        kept.append(say)
        for row, line in enumerate(lines):
            kind = "strong" if row == 0 else "soft"
            yield replace(say, text=line, y=round(mark.y + BIGGEST_MARK + 6 + (row + 0.5) * LINE, 1), kind=kind)


def _inside(say: Say, left: float, right: float) -> Say:
    """The same words, hung by another end if they would stick out of the picture."""
    begins, ends = say.room()
    if ends > right:
        return replace(say, x=right, anchor="end")
    return replace(say, x=left, anchor="start") if begins < left else say


def line_says(facts: Facts, frame: Frame, narrow: bool) -> tuple[Say, ...]:
    """Target, floor and forecast at the right of their lines, pushed apart where they would overlap."""
    wanted = [("target", facts.target), ("floor", facts.floor)]
    if facts.band and not narrow:
        wanted.append(("forecast", facts.band[-1][2]))
    placed: list[Say] = []
    for word, ph in sorted(((w, p) for w, p in wanted if p is not None), key=lambda pair: -pair[1]):
        y = frame.y(ph) + (-4 if narrow else 4)
        y = max(y, placed[-1].y + LINE) if placed else y
        x = frame.left + 4 if narrow else frame.right + 8
        placed.append(Say(f"{word} {bare(ph, 'pH')}", x, round(y, 1), "start", word))
    return tuple(placed)


def top_says(facts: Facts, frame: Frame) -> Iterator[Say]:
    yield _inside(Say("today", frame.x(facts.today), frame.top - 6, "middle", "soft"), frame.left, frame.right)
    if facts.retest_on:
        said = f"retest {day_words(facts.retest_on)}"
        say = Say(said, frame.x(facts.retest_on), frame.top - 6 - LINE, "middle", "retest")
        yield _inside(say, frame.left, frame.right)


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def described(facts: Facts) -> str:
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
