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


@dataclass(frozen=True, slots=True)
class UnitStyle:
    """`small` decimals below `turn`, `large` from it on; `fixed` keeps closing zeros; `plural` is the word for many."""

    small: int
    large: int
    turn: float
    fixed: bool = False
    plural: str = ""


_PLAIN = UnitStyle(2, 0, 100)
_WEIGHT = UnitStyle(1, 0, 10)
_STYLES: dict[str, UnitStyle] = {
    "pH": UnitStyle(2, 2, 0),
    "": _PLAIN,
    "%": UnitStyle(1, 0, 100),
    "ton/acre": UnitStyle(2, 1, 10),
    "t/ha": UnitStyle(2, 1, 10),
    "ton": UnitStyle(2, 1, 100, plural="tons"),
    "t": UnitStyle(2, 1, 100),
    "lb/acre": _WEIGHT,
    "kg/ha": _WEIGHT,
    "lb/ton": _WEIGHT,
    "lb": _WEIGHT,
    "kg": _WEIGHT,
    "lb/1000 sq ft": UnitStyle(1, 0, 100),
    "acre": UnitStyle(2, 1, 100, plural="acres"),
    "ha": UnitStyle(2, 1, 100),
    "ppm": UnitStyle(2, 0, 10),
    "mg/kg": UnitStyle(2, 0, 10),
    "mg/dm3": UnitStyle(2, 0, 10),
    "meq/100 g": UnitStyle(1, 1, 0),
    "meq/100 cm3": UnitStyle(2, 2, 0),
    "in": UnitStyle(1, 1, 0),
    "cm": UnitStyle(1, 0, 10),
    "ft": UnitStyle(1, 0, 20),
    "m": UnitStyle(1, 0, 20),
    "mph": UnitStyle(1, 1, 0),
    "hour": UnitStyle(1, 1, 0, plural="hours"),
    "minute": UnitStyle(0, 0, 0, plural="minutes"),
    "day": UnitStyle(0, 0, 0, plural="days"),
    "month": UnitStyle(0, 0, 0, plural="months"),
    "year": UnitStyle(1, 0, 10, plural="years"),
    "bag": UnitStyle(1, 0, 10, plural="bags"),
    "load": UnitStyle(1, 0, 10, plural="loads"),
    "plot": UnitStyle(0, 0, 0, plural="plots"),
    "core": UnitStyle(0, 0, 0, plural="cores"),
    "pass": UnitStyle(1, 0, 10, plural="passes"),
    "gal": UnitStyle(1, 0, 10),
    "mile": UnitStyle(1, 0, 10, plural="miles"),
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
    """The style of a unit, or the plain one (two decimals below 100, none above) for a unit not listed."""
    return _STYLES.get(_SINGULAR.get(unit, unit), _PLAIN)


def bare(value: object, unit: str) -> str:
    """The number alone, with the decimals that its unit deserves, for a place that names the unit beside it."""
    unit = _SINGULAR.get(unit, unit)
    if unit.startswith("$"):
        return money(value)
    found = decimal_of(value)
    if found is None:
        return NOTHING
    if unit == "pH":  # one decimal, or two where the second says something
        written = number(found, 2)
        return written[:-1] if written.endswith("0") else written
    style = style_of(unit)
    places = style.small if abs(found) < Decimal(str(style.turn)) or style.turn == 0 else style.large
    return number(found, places, fixed=style.fixed)


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
