"""Methods of the laboratory as people choose them, and the readings each can give."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

PH_METHOD_NAMES: Mapping[str, str] = {
    "water_1_1": "in water, 1:1",
    "water_1_2": "in water, 1:2",
    "water_1_2_5": "in water, 1:2.5",
    "water_equivalent": "water equivalent, as reported",
    "cacl2": "in 0.01 M CaCl2",
    "kcl": "in 1 M KCl",
    "salt": "salt pH",
}
BUFFER_METHOD_NAMES: Mapping[str, str] = {
    "sikora": "Sikora",
    "smp": "SMP",
    "adams_evans": "Adams-Evans (also Moore-Sikora)",
    "mehlich": "Mehlich",
    "modified_mehlich": "modified Mehlich",
    "woodruff": "Woodruff",
}
# From the strongest acid each buffer is read at to its own fresh reading.
BUFFER_RANGES: Mapping[str, tuple[Decimal, Decimal]] = {
    "sikora": (Decimal("4.5"), Decimal("7.5")),
    "smp": (Decimal("4.5"), Decimal("7.5")),
    "adams_evans": (Decimal("7.0"), Decimal("8.0")),
    "mehlich": (Decimal("3.0"), Decimal("6.6")),
    "modified_mehlich": (Decimal("3.0"), Decimal("6.6")),
    "woodruff": (Decimal("5.0"), Decimal("7.0")),
}
SMALLEST_PH, LARGEST_PH = Decimal(3), Decimal(10)


def check_ph(value: Decimal) -> None:
    """Raise `ValueError` for a pH that no soil has."""
    if not SMALLEST_PH <= value <= LARGEST_PH:
        raise ValueError(f"pH {value}: allowed are {SMALLEST_PH} to {LARGEST_PH}")


def check_buffer(value: Decimal, method: str) -> None:
    """Raise `ValueError` for a buffer reading without its method, or outside what the method can give."""
    if method not in BUFFER_RANGES:
        raise ValueError(
            f"buffer pH {value} needs its method; a reading means something else in every buffer. "
            f"Allowed are {', '.join(BUFFER_METHOD_NAMES.values())}"
        )
    low, high = BUFFER_RANGES[method]
    if not low <= value <= high:
        raise ValueError(f"buffer pH {value} by {BUFFER_METHOD_NAMES[method]}: allowed are {low} to {high}")
