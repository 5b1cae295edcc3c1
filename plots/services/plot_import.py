"""Lists of plots: kept as a draft, understood row by row, shown first, then taken in all or not at all."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from agronomy.soil import TEXTURES
from plots import entering
from plots.models import Person, PlotImport, Property, Tillage, Vehicle
from plots.services.plots import create_plots
from plots.tables import Unreadable, numbered_rows
from plots.text import code_key

MOST_PLOTS = 5_000
TEXTURE_NAMES = {texture: texture.replace("_", " ") for texture in TEXTURES}
Row = tuple[int, list[str]]


def _retired(text: str) -> dt.date:
    return entering.day(text, label="Retired on", earliest=entering.FIRST_DAY, latest=timezone.localdate())


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the list: its heading as written out, others that mean the same, and how a cell is read.

    A reader of None means that the cell is read together with another.
    """

    name: str
    heading: str
    also: tuple[str, ...] = ()
    read: Callable[[str], Any] | None = None
    if_empty: Any = None


COLUMNS: tuple[Column, ...] = (
    Column("code", "code", ("plot", "plot code", "number", "no", "id")),
    Column("name", "name", ("plot name",),
           partial(entering.words, label="Name", longest=entering.LONGEST_NAME, invisible=True), ""),
    Column("area", "area", ("size",)),
    Column("area_unit", "area unit", ("unit", "units")),
    Column("texture", "texture", ("soil", "soil texture"),
           partial(entering.choice, choices=TEXTURE_NAMES, label="Texture"), ""),
    Column("organic_soil", "organic soil", ("organic", "muck"),
           partial(entering.yes_or_no, label="Organic soil"), False),
    Column("tillage", "tillage", ("ground", "till"),
           partial(entering.choice, choices=dict(Tillage.choices), label="Tillage"), Tillage.TILLED),
    Column("depth_limed_in", "depth limed (in)", ("depth limed", "depth", "depth in", "depth (in)", "lime depth"),
           partial(entering.figure, label="Depth limed", low=entering.DEPTH_IN[0], high=entering.DEPTH_IN[1],
                   unit="inches", places=1), entering.USUAL_DEPTH_IN),
    Column("access", "access", ("vehicle", "reached by", "heaviest vehicle"),
           partial(entering.choice, choices=dict(Vehicle.choices), label="Access"), Vehicle.TRACTOR),
    Column("access_months", "access months", ("months", "reached in"),
           partial(entering.months, label="Access months"), ()),
    Column("near_water", "near water", ("water", "water nearby"),
           partial(entering.yes_or_no, label="Near water"), False),
    Column("slope", "slope", ("sloping", "steep"), partial(entering.yes_or_no, label="Slope"), False),
    Column("usual_sampling_month", "usual sampling month", ("sampling month",),
           partial(entering.month, label="Usual sampling month")),
    Column("target_ph", "target pH", (),
           partial(entering.figure, label="Target pH", low=entering.TARGET_PH[0], high=entering.TARGET_PH[1],
                   places=1)),
    Column("note", "note", ("notes", "remark", "remarks", "comment"),
           partial(entering.words, label="Note", longest=entering.LONGEST_NOTE, lines=True), ""),
    Column("retired_on", "retired on", ("retired",), _retired),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlotRow:
    """One row of the list: the columns of the plot it would make, or every reason why it cannot."""

    line: int
    code: str
    fields: dict[str, Any] = field(default_factory=dict)
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlotList:
    """A list as understood. `unused` are headings that mean nothing here; their cells are left out."""

    rows: tuple[PlotRow, ...]
    unused: tuple[str, ...] = ()

    @property
    def wrong(self) -> tuple[PlotRow, ...]:
        return tuple(row for row in self.rows if row.problems)


class ListRefused(ValueError):
    """The list cannot be taken in as it stands; the message says why."""


def table_of(text: str) -> list[Row]:
    """The rows of a list with the numbers of their lines, headings first.

    Raises `Unreadable` for what is no list, and `ListRefused` for headings that do not do.
    """
    rows = numbered_rows(text)
    if len(rows) < 2:
        raise Unreadable("The list has only one row; the first names the columns, the plots follow.")
    if len(rows) - 1 > MOST_PLOTS:
        raise Unreadable(f"The list has {len(rows) - 1:,} plots; allowed are up to {MOST_PLOTS:,} at once.")
    _heads(rows[0][1])
    return rows


@transaction.atomic
def keep_draft(
    property_: Property, table: Sequence[Row], *, by: Person, name: str = "", encoding: str = ""
) -> PlotImport:
    """Keep a list until it is accepted. It takes the place of a draft of the same person that was never accepted."""
    PlotImport.objects.filter(property=property_, made_by=by, state=PlotImport.State.DRAFT).delete()
    return PlotImport.objects.create(
        property=property_, table=list(table), made_by=by, original_name=name[:200], encoding=encoding
    )


def understand(draft: PlotImport) -> PlotList:
    """What a list would add to its property as that is now."""
    (_, headings), *rows = draft.table
    heads, unit = _heads(headings)
    taken = {row.code_key: f"plot {row.code} is there already" for row in draft.property.plots.all()}
    found = [_row(number, cells, heads, unit, taken) for number, cells in rows]
    unused = tuple(heading for heading, name in zip(headings, heads, strict=True) if heading and name is None)
    return PlotList(tuple(found), unused)


def accept(draft: PlotImport, *, by: Person) -> int:
    """Add every plot of the list, once: how many; 0 if somebody accepted it already.

    The list is checked again against the property as it is now. Raises `ListRefused` and adds nothing if one row
    cannot be taken in.
    """
    try:
        with transaction.atomic():
            drafts = PlotImport.objects.filter(pk=draft.pk, state=PlotImport.State.DRAFT)
            if not drafts.update(state=PlotImport.State.ACCEPTED, accepted_by=by, accepted_at=timezone.now()):
                return 0
            return _add_all(draft)
    except IntegrityError:
        raise ListRefused("Another plot got one of these codes in the meantime. Look at the list again.") from None


def _add_all(draft: PlotImport) -> int:
    found = understand(draft)
    if found.wrong:
        lines = ", ".join(str(row.line) for row in found.wrong[:10])
        raise ListRefused(f"Nothing was added: see {'line' if len(found.wrong) == 1 else 'lines'} {lines}.")
    return len(create_plots(draft.property, [row.fields for row in found.rows]))


def _heads(headings: Sequence[str]) -> tuple[list[str | None], str]:
    """What each heading means, and the unit of area that a heading names ("" for none).

    Where two headings mean the same, the one that is written as here counts, else the first.
    """
    meant = [_column_of(heading) for heading in headings]
    places: dict[str, int] = {}
    for place in sorted(range(len(headings)), key=lambda place: _plain(headings[place]) != meant[place][0]):
        places.setdefault(meant[place][0] or "", place)
    missing = [name for name in ("code", "area") if name not in places]
    if missing:
        here = ", ".join(entering.shown(heading) for heading in headings[:20] if heading) or "nothing"
        raise ListRefused(
            f"The first row must name the columns, and none is named {' or '.join(missing)}. It names {here}; "
            f"known are {', '.join(column.heading for column in COLUMNS)}."
        )
    unit = meant[places["area"]][1]
    if not unit and "area_unit" not in places:
        raise ListRefused(
            "The unit of the area is missing. Name its column acres, hectares or sq ft, or add a column “area unit”."
        )
    return [name if name and places[name] == place else None for place, (name, _) in enumerate(meant)], unit


def _plain(heading: str) -> str:
    return " ".join(heading.casefold().replace("_", " ").split())


_BY_HEADING: Mapping[str, str] = {
    _plain(word): column.name for column in COLUMNS for word in (column.heading, column.name, *column.also)
}


def _column_of(heading: str) -> tuple[str | None, str]:
    """The column that a heading means, and the unit if it names one, as "acres", "area (ha)" or "size in sq ft" do."""
    plain = _plain(heading)
    if plain in _BY_HEADING:
        return _BY_HEADING[plain], ""
    named = re.sub(r"^(?:area|size)\b(?:\s+in\b)?", "", plain).strip(" ()[],:.")
    try:
        return "area", entering.area_unit("acre" if named == "acreage" else named)
    except ValueError:
        return None, ""


def _row(number: int, cells: Sequence[str], heads: Sequence[str | None], unit: str, taken: dict[str, str]) -> PlotRow:
    values = {name: cell for name, cell in zip(heads, cells, strict=False) if name}
    problems: list[str] = []
    if any(cells[len(heads) :]):
        problems.append(f"The row has {len(cells)} cells and the headings name {len(heads)}.")
    fields: dict[str, Any] = {}
    for read in (_code(values, taken, number), _area(values, unit), *_others(values)):
        try:
            fields |= read()
        except ValueError as error:
            problems.append(str(error))
    code = values.get("code", "")
    return PlotRow(number, code, problems=tuple(problems)) if problems else PlotRow(number, code, fields)


def _code(values: Mapping[str, str], taken: dict[str, str], number: int) -> Callable[[], dict[str, Any]]:
    def read() -> dict[str, Any]:
        code = entering.words(values.get("code", ""), label="Code", longest=entering.LONGEST_CODE)
        if not code:
            raise ValueError("The code is missing.")
        if code_key(code) in taken:
            why = taken[code_key(code)]
            raise ValueError(
                f"Code {entering.shown(code)} is taken: {why}; capital and small letters count as the same."
            )
        taken[code_key(code)] = f"line {number} has it"
        return {"code": code}

    return read


def _area(values: Mapping[str, str], unit: str) -> Callable[[], dict[str, Any]]:
    def read() -> dict[str, Any]:
        text = values.get("area", "")
        if not text:
            raise ValueError("The area is missing.")
        named = values.get("area_unit", "")
        if not (named or unit):
            units = ", ".join(entering.AREA_UNITS)
            raise ValueError(f"An area of {entering.shown(text)} has no unit; allowed are {units}.")
        used = entering.area_unit(named) if named else unit
        entered, acres = entering.area(text, used)
        return {"area_entered": entered, "area_unit": used, "acres_entered": acres}

    return read


def _others(values: Mapping[str, str]) -> Iterator[Callable[[], dict[str, Any]]]:
    for column in COLUMNS:
        if column.read is not None:
            yield partial(_cell, column, values.get(column.name, ""))


def _cell(column: Column, text: str) -> dict[str, Any]:
    assert column.read is not None
    value = column.read(text) if text else column.if_empty
    return {column.name: list(value) if isinstance(value, tuple) else value}
