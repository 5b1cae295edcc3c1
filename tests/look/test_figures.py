"""Every number that a person reads."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plots.figures import MINUS, NO_BREAK, NOTHING, as_entered, bare, decimal_of, money, number, quantity, unit_word


def said(text: str) -> str:
    return text.replace(NO_BREAK, " ")


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (2.8, "ton/acre", "2.8 ton/acre"),
        (4.4657, "ton/acre", "4.47 ton/acre"),
        (12.345, "ton/acre", "12.3 ton/acre"),
        (6.70, "ton", "6.7 tons"),
        (1, "ton", "1 ton"),
        (0.5, "tons", "0.5 tons"),
        (1966.29, "lb/acre", "1,966 lb/acre"),
        (9.46, "lb/acre", "9.5 lb/acre"),
        (92.34, "lb/acre", "92.3 lb/acre"),
        (25.0, "lb/acre", "25 lb/acre"),
        (0.15, "acre", "0.15 acres"),
        (Decimal("1.0000"), "acre", "1 acre"),
        (62.7, "%", "62.7%"),
        (120.4, "%", "120%"),
        (10, "bag", "10 bags"),
        (1.0, "bag", "1 bag"),
        (8.3, "meq/100 g", "8.3 meq/100 g"),
        (0.35, "ppm", "0.35 ppm"),
        (112.6, "ppm", "113 ppm"),
        (6.0, "in", "6 in"),
        (14, "month", "14 months"),
        (1234567.8, "lb", "1,234,568 lb"),
        (-310, "lb/acre", f"{MINUS}310 lb/acre"),
        (38.5, "$/ton", "$38.50/ton"),
        (1234.5, "$", "$1,234.50"),
        (7, "furlong", "7 furlong"),
        (0, "ton/acre", "0 ton/acre"),
    ],
)
def test_quantities(value: object, unit: str, expected: str) -> None:
    assert said(quantity(value, unit)) == expected


@pytest.mark.parametrize(
    ("value", "expected"), [(6, "6.0"), (5.85, "5.85"), (5.9, "5.9"), (6.004, "6.0"), (6.125, "6.13"), ("5.30", "5.3")]
)
def test_ph_has_one_decimal_or_two(value: object, expected: str) -> None:
    assert bare(value, "pH") == quantity(value, "pH") == expected


@pytest.mark.parametrize("value", [None, "", "  ", "n/a", float("nan"), float("inf"), True, "NaN", "Infinity", "1e"])
def test_no_number_is_a_dash(value: object) -> None:
    assert decimal_of(value) is None
    assert quantity(value, "lb") == number(value, 2) == money(value) == bare(value, "pH") == NOTHING


def test_rounding_is_half_up_from_the_digits() -> None:
    assert number(2.675, 2) == "2.68"  # binary rounding would say 2.67
    assert number(0.125, 2) == "0.13"
    assert number(-0.004, 2) == "0.00"
    assert number(-0.005, 2) == f"{MINUS}0.01"
    assert money(Decimal("-1.005")) == f"{MINUS}$1.01"
    assert money(-0.001) == "$0.00"


def test_rounding_up_to_one_figure_more() -> None:
    assert said(quantity(9.96, "lb/acre")) == "10 lb/acre"
    assert said(quantity(99.996, "acre")) == "100 acres"


def test_fixed_decimals_for_columns() -> None:
    assert number(6.7, 2) == "6.70"
    assert number(6.7, 2, fixed=False) == "6.7"
    assert number(1200, 0) == "1,200"


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (Decimal("24.7500"), "ton", "24.75 tons"),
        (Decimal("22.0000"), "bag", "22 bags"),
        (Decimal("0.1234"), "ha", "0.1234 ha"),
        (Decimal("1200"), "lb", "1,200 lb"),
        (Decimal("1E+3"), "lb", "1,000 lb"),
        (Decimal("6.25"), "pH", "6.25"),
        (12, "%", "12%"),
    ],
)
def test_what_was_entered_keeps_its_digits(value: object, unit: str, expected: str) -> None:
    assert said(as_entered(value, unit)) == expected


def test_a_number_beyond_the_trade_does_not_break_the_page() -> None:
    assert number(Decimal("1e40"), 2) == "1.000E+40"
    assert quantity(1e300, "lb").startswith("1.000E+300")


def test_unit_words() -> None:
    assert unit_word("bag", "1") == "bag"
    assert unit_word("bags", "1") == "bag"
    assert unit_word("pass", "2") == "passes"
    assert unit_word("lb/acre", "2") == "lb/acre"


@given(st.floats(-1e9, 1e9), st.integers(0, 6))
def test_what_is_written_is_the_value_rounded(value: float, places: int) -> None:
    written = number(value, places).replace(",", "").replace(MINUS, "-")
    assert abs(Decimal(written) - Decimal(repr(value))) <= Decimal(5).scaleb(-places - 1)


@given(st.floats(0, 1e7), st.sampled_from(["lb", "ton/acre", "acre", "ppm", "%", "bag", "in"]))
def test_a_quantity_is_true_to_three_figures_or_its_last_decimal(value: float, unit: str) -> None:
    written = float(bare(value, unit).replace(",", ""))
    last_decimal = 0.0051 if unit in ("ton/acre", "acre", "ppm") else 0.051
    assert abs(written - value) <= max(last_decimal, 0.0051 * min(value, 100))
