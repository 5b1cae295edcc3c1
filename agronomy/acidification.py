"""How much lime nitrogen and sulfur use up, by published tables and by the chemical bound."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from agronomy.chemistry import caco3_per_n, caco3_per_s
from agronomy.findings import Finding, Step, Working, check, note
from agronomy.sources import load_table

NITROGEN_TABLES = ("cornell", "university_of_california", "aoac", "full_nitrification")
"""In the order in which a season asks them: published tables before those from memory; the bound stands apart."""
MATERIAL_TABLES = ("alabama_anr_174",)
BASIC_MANURE = ("manure", "litter")


@dataclass(frozen=True, slots=True)
class Acidity:
    """Lime used up: lb CaCO3 (negative: gained), the most that could be, and how it was worked out."""

    lb_caco3: float
    bound_lb_caco3: float | None
    findings: tuple[Finding, ...] = ()
    working: Working = ()


@cache
def per_lb_n(table: str) -> Mapping[str, float]:
    """lb CaCO3 per lb N by source; raises `ValueError` for another table than `NITROGEN_TABLES`."""
    if table not in NITROGEN_TABLES:
        raise ValueError(f"table {table!r} is none of {', '.join(NITROGEN_TABLES)}")
    raw = load_table(f"nitrogen_acidity_{table}")
    if "equivalents_per_n" in raw:
        return {key: value * caco3_per_n() for key, value in raw["equivalents_per_n"].items()}
    return dict(raw["lb_caco3_per_lb_n"])


def nitrogen_acidity(table: str, *, source: str, n_lb: float) -> float:
    """lb CaCO3 that the nitrogen uses up (negative: basic). `n_lb` 0 and more.

    Raises `ValueError` for an unknown table, a source that it does not give, or a negative amount.
    """
    factors = per_lb_n(table)
    if source not in factors:
        raise ValueError(f"the table {table} gives no figure for {source!r}; it gives {', '.join(factors)}")
    if n_lb < 0:
        raise ValueError(f"{n_lb:g} lb N is not 0 or more")
    return factors[source] * n_lb


def sulfur_acidity(s_lb: float) -> float:
    """lb CaCO3 that elemental sulfur uses up once it is sulfate; raises `ValueError` for a negative amount."""
    if s_lb < 0:
        raise ValueError(f"{s_lb:g} lb S is not 0 or more")
    return caco3_per_s() * s_lb


def material_acidity(table: str, *, material: str, material_lb: float) -> float:
    """lb CaCO3 for an amount of material (negative: gained); raises `ValueError` for what the table does not give."""
    if table not in MATERIAL_TABLES:
        raise ValueError(f"table {table!r} is none of {', '.join(MATERIAL_TABLES)}")
    per_100 = load_table(table)["per_100_lb"]
    if material not in per_100:
        raise ValueError(f"the table {table} gives no figure for {material!r}; it gives {', '.join(per_100)}")
    if material_lb < 0:
        raise ValueError(f"{material_lb:g} lb of material is not 0 or more")
    return float(per_100[material]) * material_lb / 100


def _table_for(source: str) -> str | None:
    """The first table that gives the source, published ones first."""
    return next((table for table in NITROGEN_TABLES[:-1] if source in per_lb_n(table)), None)


def season_acidity(spread: Iterable[tuple[str, float]]) -> Acidity:
    """What a season's nitrogen uses up: pairs of nitrogen source and lb N (an acre or in all, as given).

    Sources without a figure are told and left out; manure and litter are mildly basic by the layer figures that are
    handed on, and count nothing. Raises `ValueError` for a negative amount.
    """
    total, bound, found, steps = 0.0, 0.0, [], []
    for source, n_lb in spread:
        if n_lb < 0:
            raise ValueError(f"{n_lb:g} lb N is not 0 or more")
        table = _table_for(source)
        if table is None:
            code = "manure_acidity_not_counted" if source in BASIC_MANURE else "nitrogen_source_unknown"
            make = note if source in BASIC_MANURE else check
            found.append(make(code, nitrogen_source=source or "not named", n_lb=n_lb))
            continue
        factor = per_lb_n(table)[source]
        total += factor * n_lb
        bound += max(per_lb_n("full_nitrification").get(source, factor), factor) * n_lb
        key = f"nitrogen_acidity_{table}"
        steps.append(Step(source.replace("_", " "), f"{n_lb:.4g} lb N x {factor:g}", factor * n_lb, "lb", key))
    steps.append(Step("lime used up by this nitrogen", "", total, "lb", ""))
    return Acidity(total, bound if steps[:-1] else None, tuple(found), tuple(steps))
