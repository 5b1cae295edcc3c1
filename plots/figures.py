"""How a quantity is written: one place for every number that a person reads.

Nothing here changes what is stored. Figures are written the American way (1,234.5) and rounded half up, from the
decimal digits, so that 2.675 becomes 2.68 and not the 2.67 of binary rounding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

NO_BREAK = "\u00a0"
MINUS = "\u2212"
NOTHING = "\u2014"
LARGEST = 18
"""Digits before the point from which a number is no quantity of this trade and is written with an exponent."""


@dataclass(frozen=True, slots=True)
class UnitStyle:
    """`places`: the most decimals that a figure in this unit has; `plural`: the unit's word beside more than one."""

    places: int
    plural: str = ""


FIGURES = 3
"""Three figures say all that a soil test or a spreader can know; whole numbers are never rounded further."""

_PLAIN = UnitStyle(2)
_STYLES: dict[str, UnitStyle] = {
    **dict.fromkeys(("ton/acre", "t/ha", "t", "ha", "ppm", "mg/kg", "mg/dm3", "meq/100 cm3"), UnitStyle(2)),
    **dict.fromkeys(("%", "lb/acre", "kg/ha", "lb/ton", "lb", "kg", "lb/1000 sq ft", "meq/100 g"), UnitStyle(1)),
    **dict.fromkeys(("in", "cm", "ft", "m", "mph", "gal"), UnitStyle(1)),
    "ton": UnitStyle(2, "tons"),
    "acre": UnitStyle(2, "acres"),
    "hour": UnitStyle(1, "hours"),
    "minute": UnitStyle(0, "minutes"),
    "day": UnitStyle(0, "days"),
    "month": UnitStyle(0, "months"),
    "year": UnitStyle(1, "years"),
    "mile": UnitStyle(1, "miles"),
    "bag": UnitStyle(1, "bags"),
    "load": UnitStyle(1, "loads"),
    "truckload": UnitStyle(1, "truckloads"),
    "jug": UnitStyle(1, "jugs"),
    "tote": UnitStyle(1, "totes"),
    "package": UnitStyle(0, "packages"),
    "pass": UnitStyle(1, "passes"),
    "plot": UnitStyle(0, "plots"),
    "core": UnitStyle(0, "cores"),
}
_SINGULAR = {style.plural: name for name, style in _STYLES.items() if style.plural}


def decimal_of(value: object) -> Decimal | None:
    """The value as a decimal; None for nothing, for text that is no number, and for NaN and infinities."""
    if value is None or isinstance(value, bool):
        return None
    if isinstance(value, float) and not math.isfinite(value):
        return None
    try:
        found = Decimal(repr(value)) if isinstance(value, float) else Decimal(str(value).strip() or "x")
    except InvalidOperation:
        return None
    return found if found.is_finite() else None


def number(value: object, places: int, *, fixed: bool = True) -> str:
    """The number with at most `places` decimals (0 to 6); `fixed` keeps closing zeros. A dash for no number."""
    found = decimal_of(value)
    if found is None:
        return NOTHING
    if found.adjusted() >= LARGEST:
        return f"{found:.3E}"
    rounded = found.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    written = f"{abs(rounded):,f}"
    if not fixed and "." in written:
        written = written.rstrip("0").rstrip(".")
    return f"{MINUS}{written}" if rounded < 0 else written


def money(value: object, *, per: str = "") -> str:
    """Dollars and cents: "$1,234.50", or with `per` "$38.50/ton"; minus before the sign."""
    found = decimal_of(value)
    if found is None:
        return NOTHING
    written = number(abs(found), 2)
    sign = MINUS if found < 0 and written != "0.00" else ""
    return f"{sign}${written}{f'/{per}' if per else ''}"


def style_of(unit: str) -> UnitStyle:
    """The style of a unit; two decimals at most for a unit not listed."""
    return _STYLES.get(_SINGULAR.get(unit, unit), _PLAIN)


def bare(value: object, unit: str) -> str:
    """The number alone, with three figures or all its whole ones, for a place that names the unit beside it."""
    unit = _SINGULAR.get(unit, unit)
    if unit.startswith("$"):
        return money(value)
    found = decimal_of(value)
    if found is None:
        return NOTHING
    if unit == "pH":  # one decimal, or two where the second says something
        written = number(found, 2)
        return written[:-1] if written.endswith("0") else written
    places = max(0, min(style_of(unit).places, FIGURES - 1 - found.adjusted())) if found else 0
    return number(found, places, fixed=False)


def as_entered(value: object, unit: str) -> str:
    """Number and unit with every digit that was entered: "24.75 tons", though a reckoned figure would have three."""
    found = decimal_of(value)
    if found is None or unit.startswith("$") or unit == "pH":
        return quantity(value, unit)
    places = max(0, min(6, -int(found.as_tuple().exponent)))
    written = number(found, places, fixed=False)
    return f"{written}%" if unit == "%" else f"{written}{NO_BREAK}{unit_word(unit, written)}".rstrip(NO_BREAK)


def quantity(value: object, unit: str) -> str:
    """Number and unit: "2.8 ton/acre", "1 bag", "6 bags", "62.7%", "$38.50/ton"; for pH the number alone."""
    unit = _SINGULAR.get(unit, unit)
    if unit.startswith("$"):
        return money(value, per=unit[2:])
    written = bare(value, unit)
    if written == NOTHING or unit in ("pH", ""):
        return written
    if unit == "%":
        return f"{written}%"
    return f"{written}{NO_BREAK}{unit_word(unit, written)}"


def unit_word(unit: str, written: str) -> str:
    """The unit's word beside a written number: "bag" beside 1, "bags" beside anything else."""
    unit = _SINGULAR.get(unit, unit)
    plural = style_of(unit).plural
    return plural if plural and written not in ("1", f"{MINUS}1") else unit
