"""A season is a year and its half, kept as one number: 2 x year + half (0 spring, 1 fall)."""

from __future__ import annotations

import datetime as dt

SPRING, FALL = 0, 1


def season_of(year: int, half: int) -> int:
    """The season's number; `half` is SPRING or FALL."""
    if half not in (SPRING, FALL):
        raise ValueError("half is 0 (spring) or 1 (fall)")
    return 2 * year + half


def season_on(day: dt.date) -> int:
    """The season a day falls in: spring from January to June, fall from July on (our convention)."""
    return season_of(day.year, SPRING if day.month < 7 else FALL)


def season_name(season: int) -> str:
    """As people say it: "Fall 2026"."""
    year, half = divmod(season, 2)
    return f"{'Spring' if half == SPRING else 'Fall'} {year}"


def season_days(season: int) -> tuple[dt.date, dt.date]:
    """First and last day of a season."""
    year, half = divmod(season, 2)
    if half == SPRING:
        return dt.date(year, 1, 1), dt.date(year, 6, 30)
    return dt.date(year, 7, 1), dt.date(year, 12, 31)
