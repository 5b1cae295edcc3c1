"""A list of plots from a table, understood row by row before any of it is stored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any

from plots.forms.plots import PlotForm
from plots.models import Property, Tillage, Vehicle
from plots.text import code_key

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "code": ("code", "plot", "plot code", "number", "no"),
    "name": ("name", "plot name"),
    "area": ("acres", "area", "acreage", "size", "hectares", "ha"),
    "area_unit": ("area unit", "unit"),
    "texture": ("texture", "soil", "soil texture"),
    "tillage": ("tillage", "ground"),
    "depth_limed_in": ("depth limed", "depth", "depth in", "depth_limed_in"),
    "access": ("access", "vehicle", "reached by"),
    "near_water": ("near water", "water", "water nearby"),
    "note": ("note", "notes", "remark"),
}
_YES = {"yes", "y", "true", "1", "x"}
_NO = {"", "no", "n", "false", "0"}


@dataclass(frozen=True, slots=True)
class PlotRow:
    """One row of the table: the columns of the plot it would make, or what is wrong with it."""

    number: int
    code: str
    fields: dict[str, Any] = field(default_factory=dict)
    problems: tuple[str, ...] = ()


def column_of(heading: str) -> str | None:
    """The column that a heading means."""
    plain = " ".join(heading.lower().replace("_", " ").split())
    return next((name for name, words in COLUMNS.items() if plain in words), None)


def read_plots(property_: Property, table: Sequence[Sequence[str]]) -> list[PlotRow]:
    """Understand every row; raises `ValueError` where the head lacks a code or an area."""
    head = [column_of(cell) for cell in table[0]]
    missing = [name for name in ("code", "area") if name not in head]
    if missing:
        raise ValueError(
            f"The first row must name the columns; there is none for {' and '.join(missing)}. "
            f"Known headings: {', '.join(word for words in COLUMNS.values() for word in words[:1])}."
        )
    default_unit = "ha" if any(cell.strip().lower() in ("hectares", "ha") for cell in table[0]) else "acre"
    seen = {code_key(code) for code in property_.plots.values_list("code", flat=True)}
    rows = []
    for number, cells in enumerate(table[1:], start=2):
        values = {name: cell for name, cell in zip(head, cells, strict=False) if name}
        row = _row(property_, number, values, default_unit, seen)
        seen.add(code_key(row.code))
        rows.append(row)
    return rows


def _row(property_: Property, number: int, values: Mapping[str, str], unit: str, seen: set[str]) -> PlotRow:
    code = values.get("code", "")
    problems: list[str] = []
    if code_key(code) in seen:
        problems.append(f"there is a plot {code} already; upper and lower case count as the same")
    data = {
        "code": code,
        "name": values.get("name", ""),
        "note": values.get("note", ""),
        "area_entered": _decimal(values.get("area", ""), "area", problems),
        "area_unit": values.get("area_unit", "").lower() or unit,
        "texture": values.get("texture", "").lower().replace(" ", "_"),
        "tillage": _choice(values.get("tillage", ""), Tillage, Tillage.TILLED, "ground", problems),
        "access": _choice(values.get("access", ""), Vehicle, Vehicle.TRACTOR, "access", problems),
        "near_water": _flag(values.get("near_water", ""), problems),
        "depth_limed_in": _decimal(values.get("depth_limed_in") or "6", "depth limed", problems),
    }
    form = PlotForm(data, property_=property_)
    if not form.is_valid() and not problems:
        problems += [f"{name.replace('_', ' ')}: {error}" for name, errors in form.errors.items() for error in errors]
    if problems:
        return PlotRow(number, code, problems=tuple(problems))
    plot = form.save(commit=False)
    names = [name for name in (*form.cleaned_data, "acres_entered") if name != "version"]
    return PlotRow(number, code, {name: getattr(plot, name) for name in names})


def _decimal(text: str, what: str, problems: list[str]) -> Decimal | None:
    try:
        return Decimal(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except InvalidOperation:
        problems.append(f"{what} {text!r} is not a number" if text else f"{what} is missing")
        return None


def _choice(text: str, choices: Any, default: str, what: str, problems: list[str]) -> str:
    plain = text.strip().lower().replace("-", "_").replace(" ", "_")
    if not plain:
        return default
    by_word = {value.replace("-", "_"): value for value in choices.values}
    by_word |= {label.lower().replace("-", "_").replace(" ", "_"): value for value, label in choices.choices}
    if plain not in by_word:
        problems.append(f"{what} {text!r} is not known; allowed are {', '.join(choices.labels)}")
    return by_word.get(plain, default)


def _flag(text: str, problems: list[str]) -> bool:
    plain = text.strip().lower()
    if plain not in _YES | _NO:
        problems.append(f"water nearby {text!r} is neither yes nor no")
    return plain in _YES
