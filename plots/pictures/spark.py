"""A pH series in the space of a word."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from plots.figures import bare
from plots.pictures.parts import Frame, points


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
        points(dots),
        dots[:-1],
        dots[-1],
        None if target is None else frame.y(target),
        said,
    )
