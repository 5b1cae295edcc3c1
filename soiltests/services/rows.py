"""One row of a lab's table, understood: which plot, which sample, what was measured, or what is wrong with it."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any

from soiltests.analytes import ANALYTES
from soiltests.methods import check_buffer, check_ph
from soiltests.services.entry import MeasurementEntry, read_measurement

EARLIEST = dt.date(1840, 1, 1)
DATE_ORDERS = {"mdy": "month, day, year", "dmy": "day, month, year", "ymd": "year, month, day"}
_TENTH = Decimal("0.1")
_INCH_CM = Decimal("2.54")
_BLANK = {"", "-", "--", "na", "n/a", "nd", "none", "null", "."}
_ADVICE = ("lab_n", "lab_p2o5", "lab_k2o")


@dataclass(frozen=True, slots=True)
class Reading:
    """Everything a row says. `problems` name the column, the value and what is allowed; with any, nothing is stored."""

    number: int
    name: str
    plot_id: int | None = None
    sample: dict[str, Any] = field(default_factory=dict)
    test: dict[str, Any] = field(default_factory=dict)
    measurements: tuple[MeasurementEntry, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def identity(self) -> tuple[Any, ...]:
        """What makes two rows the same sample."""
        return (
            self.plot_id,
            *(self.sample.get(name) for name in ("sampled_on", "depth_top_in", "depth_bottom_in", "label")),
        )


class RowReader:
    """Reads rows by one report's choices."""

    def __init__(self, choices: Mapping[str, Any], *, plots: Mapping[str, int], today: dt.date) -> None:
        self.choices, self.plots, self.today = choices, plots, today
        self.columns = [(int(n), c["role"], c) for n, c in choices["columns"].items() if c.get("role")]

    def read(self, number: int, cells: Sequence[str]) -> Reading:
        """The row as a reading; never raises for what a cell holds."""
        problems: list[str] = []
        values = {role: (cells[n].strip() if n < len(cells) else "", c) for n, role, c in self.columns}
        name = values.get("plot", ("", {}))[0]
        plot_id = self.plots.get(name)
        if plot_id is None:
            problems.append(f"plot {name!r} is not known; match it to a plot or leave the row out" if name
                            else "the plot is missing")  # fmt: skip
        sample = self._sample(values, problems)
        test = self._test(values, problems)
        measured = self._measurements(values, problems)
        if test.get("ph") is None and not measured and not problems:
            problems.append("the row has neither a pH nor any measured figure")
        return Reading(number, name, plot_id, sample, test, measured, tuple(problems))

    def _sample(self, values: Mapping[str, Any], problems: list[str]) -> dict[str, Any]:
        text = _cell(values, "sampled_on")
        sampled_on = self._date(text, problems) if text else self._default_date(problems)
        top, bottom = self._depth(values, problems)
        return {"sampled_on": sampled_on, "depth_top_in": top, "depth_bottom_in": bottom,
                "label": _cell(values, "label")[:60]}  # fmt: skip

    def _default_date(self, problems: list[str]) -> dt.date | None:
        text = self.choices.get("sampled_on") or ""
        if not text:
            problems.append("the date sampled is missing")
            return None
        return dt.date.fromisoformat(text)

    def _date(self, text: str, problems: list[str]) -> dt.date | None:
        day = parse_date(text, self.choices.get("date_order", "mdy"))
        if day is None:
            order = DATE_ORDERS[self.choices.get("date_order", "mdy")]
            problems.append(f"date {text!r} is not a date in the order {order}")
        elif day > self.today:
            problems.append(f"date {day.isoformat()} is in the future")
        elif day < EARLIEST:
            problems.append(f"date {day.isoformat()} is before {EARLIEST.year}")
        return day

    def _depth(self, values: Mapping[str, Any], problems: list[str]) -> tuple[Decimal, Decimal]:
        default = Decimal(str(self.choices.get("depth_bottom_in") or 6))
        if "depth" in values and _cell(values, "depth"):
            text, column = values["depth"]
            found = re.findall(r"\d+(?:[.,]\d+)?", text)
            if len(found) not in (1, 2):
                problems.append(f"depth {text!r} is not a depth as 0-6")
                return Decimal(0), default
            ends = [Decimal(one.replace(",", ".")) for one in found]
            in_cm = column.get("unit") == "cm" or "cm" in text.lower()
            top, bottom = (Decimal(0), ends[0]) if len(ends) == 1 else (ends[0], ends[1])
        elif _cell(values, "depth_bottom"):
            in_cm = values["depth_bottom"][1].get("unit") == "cm"
            top = self._number(_cell(values, "depth_top") or "0", "depth from", problems) or Decimal(0)
            bottom = self._number(_cell(values, "depth_bottom"), "depth to", problems) or default
        else:
            return Decimal(0), default
        if in_cm:
            top, bottom = top / _INCH_CM, bottom / _INCH_CM
        if not 0 <= top < bottom <= 100:
            problems.append(f"depth {top:.1f} to {bottom:.1f} in: it must end deeper than it begins, at most 100 in")
        return top.quantize(_TENTH), bottom.quantize(_TENTH)

    def _test(self, values: Mapping[str, Any], problems: list[str]) -> dict[str, Any]:
        test: dict[str, Any] = {
            "ph_method": self.choices.get("ph_method") or "water_1_1",
            "lab_number": _cell(values, "lab_number")[:40],
            "lab_crop": _cell(values, "lab_crop")[:60],
        }
        ph, buffer_ph = _cell(values, "ph"), _cell(values, "buffer_ph")
        if ph:
            test["ph"] = self._checked(ph, "pH", check_ph, problems)
        if buffer_ph:
            method = self.choices.get("buffer_method") or ""
            test["buffer_ph"] = self._checked(buffer_ph, "buffer pH", lambda v: check_buffer(v, method), problems)
            test["buffer_method"] = method
        self._advice(values, test, problems)
        return test

    def _advice(self, values: Mapping[str, Any], test: dict[str, Any], problems: list[str]) -> None:
        lime = _cell(values, "lab_lime_amount")
        if lime:
            test["lab_lime_amount"] = self._within(lime, "the lab's lime", 60000, problems)
            for name in ("lab_lime_unit", "lab_lime_reference"):
                test[name] = self.choices.get(name) or ""
            for name in ("lab_lime_target_ph", "lab_lime_depth_in"):
                text = self.choices.get(name)
                test[name] = Decimal(str(text)) if text else None
            if not test["lab_lime_unit"]:
                problems.append("the lab's lime has no unit; choose it above the columns")
        for name in _ADVICE:
            text = _cell(values, name)
            if text:
                test[name] = self._within(text, f"the lab's {name.removeprefix('lab_').upper()}", 800, problems)

    def _measurements(self, values: Mapping[str, Any], problems: list[str]) -> tuple[MeasurementEntry, ...]:
        found = []
        for key in ANALYTES:
            text = _cell(values, key)
            if not text:
                continue
            column = values[key][1]
            entry = MeasurementEntry(
                key, self._plain_number(text), column.get("unit", ""), column.get("extractant", "")
            )
            try:
                read_measurement(entry)
            except ValueError as error:
                problems.append(str(error))
                continue
            found.append(entry)
        return tuple(found)

    def _plain_number(self, text: str) -> str:
        """The figure with a decimal point, a leading "<" kept, thousands separators taken out."""
        below, rest = ("<", text[1:]) if text.startswith("<") else ("", text)
        rest = rest.strip()
        if self.choices.get("decimal") == ",":
            rest = rest.replace(".", "").replace(",", ".")
        elif re.fullmatch(r"\d{1,3}(,\d{3})+(\.\d+)?", rest):
            rest = rest.replace(",", "")
        return below + rest

    def _number(self, text: str, what: str, problems: list[str]) -> Decimal | None:
        try:
            value = Decimal(self._plain_number(text))
        except InvalidOperation:
            value = Decimal("NaN")
        if not value.is_finite():
            problems.append(f"{what} {text!r} is not a number")
            return None
        return value

    def _checked(self, text: str, what: str, check: Any, problems: list[str]) -> Decimal | None:
        value = self._number(text, what, problems)
        if value is None:
            return None
        try:
            check(value)
        except ValueError as error:
            problems.append(str(error))
            return None
        return value.quantize(Decimal("0.01"))

    def _within(self, text: str, what: str, most: int, problems: list[str]) -> Decimal | None:
        value = self._number(text, what, problems)
        if value is not None and not 0 <= value <= most:
            problems.append(f"{what} {text}: allowed are 0 to {most:,}")
            return None
        return value


def _cell(values: Mapping[str, Any], role: str) -> str:
    text: str = values.get(role, ("", {}))[0]
    return "" if text.lower() in _BLANK else text


def parse_date(text: str, order: str) -> dt.date | None:
    """A date in the order said; years come first whenever they have four digits in front. None for no date."""
    parts = re.findall(r"\d+", text.split("T")[0])
    if len(parts) < 3:
        return None
    numbers = [int(part) for part in parts[:3] if len(part) <= 4]
    if len(numbers) < 3:
        return None
    if len(parts[0]) == 4 or order == "ymd":
        year, month, day = numbers
    elif order == "dmy":
        day, month, year = numbers
    else:
        month, day, year = numbers
    if year < 100:
        year += 2000 if year < 70 else 1900
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None
