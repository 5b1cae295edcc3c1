"""Reading a trial's records: tests, lime and nitrogen as CSV with `#` lines above a header that names the columns.

Columns are known by their names, so that other trials of the layout are read too: other level names, missing
optional columns, dates by month or year only, lime by level or by plot, burnt lime.
"""

from __future__ import annotations

import csv
import datetime as dt
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from agronomy.ph_forecast.inputs import (
    LimeDressing,
    NitrogenDressing,
    PhTest,
    PlotHistory,
    SieveShares,
    SiteFacts,
)
from agronomy.soil import TEXTURES

Row = Mapping[str, str]
_LB_PER_ACRE = {
    "t_ha": 892.18, "kg_ha": 0.89218, "ton_acre": 2000.0, "tons_acre": 2000.0, "lb_acre": 1.0, "t_per_ha": 892.18,
    "kg_per_ha": 0.89218, "lb_per_acre": 1.0, "ton_per_acre": 2000.0, "tons_per_acre": 2000.0, "cwt_acre": 112.0,
    "mg_ha": 892.18,
}
_ALL_FINE: SieveShares = (1.0, 0.0, 0.0, 0.0)
_CM_PER_IN = 2.54
_PLOUGH_DEPTH_CM = 20.0
_SAMPLED_IN = (10, 1)  # a year alone: sampled after harvest
_LIMED_IN = (11, 15)  # a year alone: limed in autumn, after sampling
_NITROGEN_IN = (4, 1)  # spring of the harvest year
_METHODS = (("cacl", "cacl2"), ("kcl", "kcl"), ("salt", "salt"), ("water_1_1", "water_1_1"))
_SOURCES = (
    (r"ammonium.?sul|sul\w*.of.ammonia|\bas\b", "ammonium_sulfate"), (r"ammonium.?chl|\bac\b", "ammonium_chloride"),
    (r"calcium.?ammonium|\bcan\b|nitro.?chalk", "calcium_ammonium_nitrate_limestone"),
    (r"ammonium.?nit|\ban\b|nitram", "ammonium_nitrate"), (r"sodium.?nit|nitrate.of.soda|\bsn\b", "sodium_nitrate"),
    (r"calcium.?nit", "calcium_nitrate"), (r"potassium.?nit", "potassium_nitrate"), (r"urea.ammonium|\buan\b", "uan"),
    (r"urea", "urea"), (r"\bdap\b|diammonium", "dap"), (r"\bmap\b|monoammonium", "map"),
    (r"anhydrous|ammonia\b", "anhydrous_ammonia"), (r"compound|npk|\d+:\d+:\d+", "other"),
    (r"^ammonium", "ammonium_sulfate"), (r"^nitrate", "sodium_nitrate"),
)


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of one file by lower-case column name; `name` is used in complaints."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]


def read_table(text: str, *, name: str) -> Table:
    """Parse CSV below `#` lines. Raises `ValueError` naming the file where there is no header or no row."""
    lines = [line for line in text.lstrip("\ufeff").splitlines() if line.strip() and not line.startswith("#")]
    reader = csv.reader(lines)
    header = [column.strip().lower() for column in next(reader, [])]
    rows = [dict(zip(header, (cell.strip() for cell in row), strict=False)) for row in reader]
    if len(header) < 2 or not rows:
        raise ValueError(f"{name}: no table found (a header line and rows with commas, # lines above)")
    return Table(name, tuple(header), tuple(rows))


def _column(table: Table, *patterns: str) -> str | None:
    for pattern in patterns:
        for column in table.columns:
            if re.search(pattern, column):
                return column
    return None


def _needed(table: Table, what: str, *patterns: str) -> str:
    column = _column(table, *patterns)
    if column is None:
        raise ValueError(f"{table.name}: no column for {what} among {', '.join(table.columns)}")
    return column


def number(text: str | None) -> float | None:
    """A figure, or None where the cell is empty or a mark for missing."""
    cleaned = (text or "").strip().replace("*", "").replace("−", "-")
    try:
        value = float(cleaned)
    except ValueError:
        return None
    return value if value == value and abs(value) != float("inf") else None


def date_of(text: str, *, month_day: tuple[int, int], harvest_year: bool = False) -> dt.date | None:
    """A date of `YYYY-MM-DD`, `DD/MM/YYYY`, `YYYY-MM` (the 15th) or `YYYY` (`month_day`; of the year before where
    autumn work is booked on the next harvest). None where the cell is no date."""
    cell = text.strip()
    whole = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ].*)?", cell)
    british = re.fullmatch(r"(\d{1,2})/(\d{1,2})/(\d{4})", cell)
    month = re.fullmatch(r"(\d{4})-(\d{1,2})", cell)
    year = re.fullmatch(r"(\d{4})(?:\.0+)?", cell)
    try:
        if whole:
            return dt.date(int(whole[1]), int(whole[2]), int(whole[3]))
        if british:
            return dt.date(int(british[3]), int(british[2]), int(british[1]))
        if month:
            return dt.date(int(month[1]), int(month[2]), 15)
        if year:
            back = 1 if harvest_year and month_day[0] > 8 else 0
            return dt.date(int(year[1]) - back, *month_day)
    except ValueError:
        return None
    return None


def _dated(table: Table, month_day: tuple[int, int]) -> tuple[str, bool]:
    column = _needed(table, "the date", r"date$", r"^date", r"harvest_year", r"year$", r"^year", r"date")
    return column, "harvest" in column


_IDENTITY = r"plot|block|level|treat|lime_code|strip|rep|section|field"


def _shared_identity(table: Table, soil: Table) -> list[str]:
    return [column for column in table.columns if column in soil.columns and re.search(_IDENTITY, column)]


def histories(soil: Table, lime: Table, nitrogen: Table, *, site: SiteFacts) -> list[PlotHistory]:
    """The plots of a trial. Sub-plots of a plot are one plot (their tests of a day are averaged) unless lime or
    nitrogen is told by sub-plot."""
    joined = {*_shared_identity(lime, soil), *_shared_identity(nitrogen, soil)}
    parts = [_needed(soil, "the plot", r"^plot", r"plot")]
    parts += [column for column in soil.columns if re.search("sub.?plot", column) and column in joined]
    grouped: dict[str, list[Row]] = {}
    for row in soil.rows:
        grouped.setdefault("/".join(row.get(part, "") for part in dict.fromkeys(parts)), []).append(row)
    read = _SoilReader(soil)
    dressings, feeds = _lime(lime), _nitrogen(nitrogen)
    plots = []
    for key, rows in grouped.items():
        tests = [test for test in map(read.test, rows) if test is not None]
        if tests:
            place = _place(rows, joined)
            plots.append(PlotHistory(
                key, tests, [d for where, d in dressings if _fits(where, place)],
                [n for where, n in feeds if _fits(where, place)], site,
            ))
    if not plots:
        raise ValueError(f"{soil.name}: no topsoil row with a date and a pH")
    return plots


def _place(rows: Sequence[Row], columns: Iterable[str]) -> dict[str, str]:
    """A plot's identity: of each column the commonest cell that is not empty."""
    place = {}
    for column in columns:
        cells = Counter(row[column] for row in rows if row.get(column))
        place[column] = cells.most_common(1)[0][0] if cells else ""
    return place


def _fits(where: Mapping[str, str], place: Mapping[str, str]) -> bool:
    return all(place.get(column, "").casefold() == cell.casefold() for column, cell in where.items() if cell)


class _SoilReader:
    """Reads the tests of a soil file."""

    def __init__(self, table: Table) -> None:
        self.date, self.harvest = _dated(table, _SAMPLED_IN)
        self.ph = _needed(table, "pH", r"^ph_?w", r"^ph(?![a-z])", r"(^|_)ph(_|$)")
        self.depth = _column(table, r"^depth.*cm", r"^depth", r"depth")
        self.method = next((method for word, method in _METHODS if word in self.ph), "water_1_2_5")

    def test(self, row: Row) -> PhTest | None:
        """The row's test; None for subsoil, no date or no pH."""
        date = date_of(row.get(self.date, ""), month_day=_SAMPLED_IN)
        ph = number(row.get(self.ph))
        depth = self._depth_cm(row)
        if date is None or ph is None or not 2.0 <= ph <= 11.0 or depth is None:
            return None
        return PhTest(date, ph, depth / _CM_PER_IN, method=self.method)

    def _depth_cm(self, row: Row) -> float | None:
        figures = [float(f) for f in re.findall(r"\d+(?:\.\d+)?", row.get(self.depth or "", ""))]
        if not figures:
            return _PLOUGH_DEPTH_CM
        if len(figures) > 1 and figures[0] > 2.0:
            return None
        bottom = figures[-1] * (_CM_PER_IN if (self.depth or "").endswith("_in") else 1.0)
        return bottom if 2.0 <= bottom <= 60.0 else None


def _lime(table: Table) -> list[tuple[dict[str, str], LimeDressing]]:
    date, harvest = _dated(table, _LIMED_IN)
    amounts = [c for c in table.columns if any(c.endswith(u) for u in _LB_PER_ACRE) and "cum" not in c]
    if not amounts:
        raise ValueError(f"{table.name}: no column of lime in t_ha, kg_ha, ton_acre or lb_acre")
    where = [c for c in table.columns if re.search(_IDENTITY, c) and c not in amounts]
    form = _column(table, r"material|form|kind|type|product")
    value = _column(table, r"cce|neutrali[sz]ing")
    found = []
    for i, row in enumerate(table.rows):
        day = date_of(row.get(date, ""), month_day=_LIMED_IN, harvest_year=harvest)
        for column in amounts:
            amount = number(row.get(column))
            if day is None or not amount or amount < 0:
                continue
            words = f"{column} {row.get(form or '', '')}".lower()
            share = number(row.get(value or ""))
            unit = max((u for u in _LB_PER_ACRE if column.endswith(u)), key=len)
            pounds = amount * _LB_PER_ACRE[unit] * _caco3_factor(words, column, share)
            found.append((
                {c: row.get(c, "") for c in where},
                LimeDressing(day, min(pounds, 100_000.0), _ALL_FINE if _burnt(words) else None, key=str(i)),
            ))
    return found


def _burnt(words: str) -> bool:
    return bool(re.search(r"burnt|burned|quick|slaked|hydrat|\bcao|_cao|oxide", words))


def _caco3_factor(words: str, column: str, value_percent: float | None) -> float:
    """CaCO3 for one of the column's amount: as told, else by the form (CaO 1.785, Ca(OH)2 1.351)."""
    if "caco3" in column or "chalk" in column or "_eq" in column:
        return 1.0
    if value_percent:
        return value_percent / 100.0
    if re.search(r"slaked|hydrat", words):
        return 1.351
    return 1.785 if _burnt(words) else 1.0


def _nitrogen(table: Table) -> list[tuple[dict[str, str], NitrogenDressing]]:
    date, harvest = _dated(table, _NITROGEN_IN)
    amount = _needed(table, "nitrogen", r"^n_.*(ha|acre)$", r"(^|_)n(_|$)", r"nitrogen")
    form = _column(table, r"form|source|kind|type")
    unit = max((u for u in _LB_PER_ACRE if amount.endswith(u)), key=len, default="kg_ha")
    where = [c for c in table.columns if re.search(_IDENTITY, c)]
    found = []
    for row in table.rows:
        day = date_of(row.get(date, ""), month_day=_NITROGEN_IN, harvest_year=harvest)
        n = number(row.get(amount))
        if day is not None and n and n > 0:
            told = NitrogenDressing(day, source_of(row.get(form or "", "")), min(n * _LB_PER_ACRE[unit], 2000.0))
            found.append(({c: row.get(c, "") for c in where}, told))
    return found


def source_of(words: str) -> str:
    """The nitrogen source that a record's words name; `other` where they name none."""
    cell = words.strip().lower().replace("_", " ")
    for pattern, source in _SOURCES:
        if re.search(pattern, cell):
            return source
    return "other"


def site_facts(told: Mapping[str, object], soil: Table) -> SiteFacts:
    """What a land manager knows of the ground, from a site file's keys; the depth limed is the plough's (20 cm)
    or the first sampled depth, whichever is more, unless `depth_cm` tells it."""
    depth = _figure(told, "depth_cm") or max(_PLOUGH_DEPTH_CM, _first_depth_cm(soil))
    return SiteFacts(
        texture_of(str(told.get("texture") or "")), _figure(told, "clay_percent"),
        _figure(told, "organic_carbon_percent"), _figure(told, "organic_matter_percent"),
        _figure(told, "cec_meq_100g"), str(told["region"]) if told.get("region") else None, depth / _CM_PER_IN,
    )


def _figure(told: Mapping[str, object], key: str) -> float | None:
    value = told.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"site: {key} must be a number, not {value!r}")
    return float(value)


def _first_depth_cm(soil: Table) -> float:
    read = _SoilReader(soil)
    tests = [test for test in map(read.test, soil.rows) if test is not None]
    return min(tests, key=lambda test: test.date).depth_in * _CM_PER_IN if tests else _PLOUGH_DEPTH_CM


def texture_of(words: str) -> str | None:
    """The texture class named in free words (`flinty silty clay loam`); None where none is."""
    cell = re.sub(r"[\s-]+", "_", words.strip().lower())
    named = [texture for texture in TEXTURES if texture in cell]
    return max(named, key=len) if named else None
