"""The calendar of the forecast: nodes on the first day of each month."""

from __future__ import annotations

import calendar
import datetime as dt


def month_number(day: dt.date) -> int:
    """Months since year 0, so that numbers of two dates differ by the months between them."""
    return day.year * 12 + day.month - 1


def first_of_month(number: int) -> dt.date:
    """The first day of a month by its number."""
    return dt.date(number // 12, number % 12 + 1, 1)


def month_position(day: dt.date) -> float:
    """The month number with the part of the month gone by."""
    return month_number(day) + (day.day - 1) / calendar.monthrange(day.year, day.month)[1]


def date_at(position: float) -> dt.date:
    """The date of a month position, to the day."""
    number = int(position // 1)
    first = first_of_month(number)
    days = calendar.monthrange(first.year, first.month)[1]
    return first + dt.timedelta(days=min(int((position - number) * days), days - 1))
