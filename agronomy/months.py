"""Whole months from a date, the way the trade counts them."""

from __future__ import annotations

import calendar
import datetime as dt


def add_months(day: dt.date, months: int) -> dt.date:
    """The same day of the month so many months later (or earlier); the month's last day where it is too short.

    Stays within the calendar's years: a date before year 1 or after 9999 becomes the first or last possible one.
    """
    count = day.year * 12 + day.month - 1 + months
    year, month = divmod(count, 12)
    if year < dt.MINYEAR:
        return dt.date.min
    if year > dt.MAXYEAR:
        return dt.date.max
    last = calendar.monthrange(year, month + 1)[1]
    return dt.date(year, month + 1, min(day.day, last))


def months_apart(month: int, other: int) -> int:
    """Months from one month of the year to the nearest `other`, -5 to 6 (both 1 to 12)."""
    for value in (month, other):
        if not 1 <= value <= 12:
            raise ValueError(f"a month of {value} is not 1 to 12")
    return (other - month + 5) % 12 - 5
