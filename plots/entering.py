"""What people type or send in, read with a sentence for everything refused.

Every function raises `ValueError` whose message is a whole sentence that names the field, the value and what is
allowed. Forms and imports read through the same functions, so that one rule has one wording.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable, Mapping
from decimal import ROUND_HALF_UP, Decimal
from types import MappingProxyType

from agronomy.units import exact_factor, unit_name

AREA_UNITS: Mapping[str, str] = MappingProxyType(
    {"acre": "acres", "ha": "hectares", "sq ft": "square feet", "m2": "square metres"}
)
LONGEST_CODE, LONGEST_NAME, LONGEST_NOTE = 20, 100, 2_000
DEPTH_IN, USUAL_DEPTH_IN = (Decimal(1), Decimal(12)), Decimal("6.0")
TARGET_PH = (Decimal(4), Decimal(8))
FIRST_DAY = dt.date(1900, 1, 1)
SMALLEST_ACRES, LARGEST_ACRES = Decimal("0.01"), Decimal(2000)
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
_ACRE_PLACES = Decimal("0.0001")
_LARGEST_ENTERED = Decimal("999999.9999")
_NUMBER = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})")
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d*)?")
_COMMA = re.compile(r"[+-]?\d{1,12},\d{1,12}")
_YES, _NO = {"yes", "y", "true", "1", "x"}, {"", "no", "n", "false", "0"}
_LONGEST_SHOWN = 40


def shown(value: object) -> str:
    """A value as typed, safe to show in a sentence: quoted, shortened, what cannot be printed by its number."""
    text = str(value)
    cut = text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"
    return f"“{''.join(c if _is_plain(c) or c == ' ' else f'[U+{ord(c):04X}]' for c in cut)}”"


def _is_plain(char: str) -> bool:
    return unicodedata.category(char) not in ("Cc", "Cs", "Co", "Cn", "Cf", "Zl", "Zp") and char != "\ufffd"


def words(text: object, *, label: str, longest: int, lines: bool = False, invisible: bool = False) -> str:
    """Text as it is stored: composed (NFC), with outer blanks and, on one line, repeated blanks taken away.

    Refuses what cannot be stored or read: control characters, halves of characters, unassigned ones and the mark of
    a broken one; in one-line text without `invisible` also those that show nothing, by which two codes could look
    alike.
    """
    found = unicodedata.normalize("NFC", str(text))
    if lines:
        found = found.replace("\r\n", "\n").replace("\r", "\n").strip()
    else:
        found = re.sub(r"[ \t\r\n]+", " ", found).strip()
    for place, char in enumerate(found, start=1):
        allowed = (lines and char in "\n\t") or (invisible and unicodedata.category(char) == "Cf")
        if not _is_plain(char) and not allowed:
            raise ValueError(
                f"{label} {shown(found)} holds a character that cannot be written, U+{ord(char):04X} at place {place}. "
                "Type it again without it; letters, digits and signs are allowed."
            )
    if not lines:
        found = " ".join(found.split())
    if len(found) > longest:
        raise ValueError(f"{label} {shown(found)} has {len(found):,} characters; allowed are up to {longest:,}.")
    return found


def number(text: object, *, label: str, is_possible: Callable[[Decimal], bool] = lambda _: True) -> Decimal:
    """A number as people write it: 1.5, 1,250.5 or 0,5.

    One comma before three digits can mean thousands or decimals: what is not possible is left out, and where both
    are, it is refused.
    """
    plain = str(text).strip().replace("\u2212", "-").replace("\u00a0", "").replace("\u202f", "")
    if _NUMBER.fullmatch(plain):
        return Decimal(plain)
    if _COMMA.fullmatch(plain):
        thousands = [Decimal(plain.replace(",", ""))] if _GROUPED.fullmatch(plain) else []
        readings = [*thousands, Decimal(plain.replace(",", "."))]
        left = [reading for reading in readings if is_possible(reading)] or readings
        if len(left) == 1 or plain.lstrip("+-").startswith("0"):
            return left[-1]
        raise ValueError(
            f"{label} {shown(text)} can be read as {_plain(readings[1])} or as {_plain(readings[0])}. "
            "Write it with a point, and without a comma."
        )
    if _GROUPED.fullmatch(plain):
        return Decimal(plain.replace(",", ""))
    raise ValueError(f"{label} {shown(text)} is no number. Write digits only, as 1.5; the unit has its own place.")


def figure(
    text: object, *, label: str, low: Decimal | int, high: Decimal | int, unit: str = "", places: int = 2
) -> Decimal:
    """A number from `low` to `high` with at most `places` decimals."""
    found = text if isinstance(text, Decimal) else number(text, label=label, is_possible=lambda n: low <= n <= high)
    beside = f" {unit}" if unit else ""
    least, most = _plain(Decimal(low)), _plain(Decimal(high))
    if not low <= found <= high:
        raise ValueError(f"{label} {found:f}{beside} is not possible; allowed are {least} to {most}{beside}.")
    if found != round(found, places):
        allowed = f"{places} decimals" if places else "whole numbers only"
        raise ValueError(f"{label} {found:f}{beside} has too many decimals; allowed are {allowed}.")
    return found


def area(text: object, unit: str) -> tuple[Decimal, Decimal]:
    """An area as entered, and in acres to four decimals: 0.01 to 2,000 acres."""
    if unit not in AREA_UNITS:
        raise ValueError(f"The unit {shown(unit)} is no unit of area; allowed are {', '.join(AREA_UNITS)}.")

    def is_possible(number_: Decimal) -> bool:
        return SMALLEST_ACRES <= number_ * acres_in(unit) <= LARGEST_ACRES

    entered = text if isinstance(text, Decimal) else number(text, label="An area of", is_possible=is_possible)
    if entered > _LARGEST_ENTERED:
        raise ValueError(f"An area of {_plain(entered)} {unit} is not possible here; give so large an area in acres.")
    if entered != round(entered, 4):
        raise ValueError(f"An area of {entered:f} {unit} has too many decimals; allowed are 4 decimals.")
    acres = entered * acres_in(unit)
    if not is_possible(entered):
        also = "" if unit == "acre" else f" ({_plain(acres.quantize(_ACRE_PLACES, ROUND_HALF_UP))} acres)"
        raise ValueError(
            f"An area of {_plain(entered)} {AREA_UNITS[unit]}{also} is not possible; "
            f"allowed are {SMALLEST_ACRES} to {LARGEST_ACRES:,} acres."
        )
    return entered, acres.quantize(_ACRE_PLACES, ROUND_HALF_UP)


def acres_in(unit: str) -> Decimal:
    """Acres in one of a unit of area, by definition."""
    factor = exact_factor("area", from_unit=unit, to_unit="acre")
    return Decimal(factor.numerator) / Decimal(factor.denominator)


def _plain(value: Decimal) -> str:
    """A number without closing zeros."""
    return f"{value.normalize():,f}"


def area_unit(text: str) -> str:
    """The unit of area that a usual spelling means."""
    found = unit_name(text)
    if found not in AREA_UNITS:
        raise ValueError(f"The unit {shown(text)} is no unit of area; allowed are {', '.join(AREA_UNITS)}.")
    return found


def day(text: object, *, label: str, earliest: dt.date, latest: dt.date | None = None, why: str = "") -> dt.date:
    """A date as 2026-03-31 or 3/31/2026, not before `earliest` and not after `latest`; `why` says why not after."""
    found = text if isinstance(text, dt.date) else _date(str(text).strip(), label)
    if found < earliest:
        raise ValueError(f"{label} {found.isoformat()} is not allowed; the earliest is {earliest.isoformat()}.")
    if latest is not None and found > latest:
        reason = f" {why}" if why else ""
        raise ValueError(f"{label} {found.isoformat()} is not allowed; the latest is {latest.isoformat()}.{reason}")
    return found


def _date(text: str, label: str) -> dt.date:
    for form in ("%Y-%m-%d", "%m/%d/%Y"):
        try:
            return dt.datetime.strptime(text, form).date()
        except ValueError:
            continue
    raise ValueError(f"{label} {shown(text)} is no date; write it as 2026-03-31.")


def yes_or_no(text: str, *, label: str) -> bool:
    """Yes or no in the ways that lists have it; empty is no."""
    plain = text.strip().casefold()
    if plain not in _YES | _NO:
        raise ValueError(f"{label} {shown(text)} is neither yes nor no.")
    return plain in _YES


def month(text: str, *, label: str) -> int:
    """A month by its number or name, or the first three letters of that."""
    plain = text.strip().casefold().rstrip(".")
    if plain.isascii() and plain.isdigit() and len(plain) <= 2 and 1 <= int(plain) <= 12:
        return int(plain)
    for place, name in enumerate(MONTHS, start=1):
        if len(plain) >= 3 and name.casefold().startswith(plain):
            return place
    raise ValueError(f"{label} {shown(text)} is no month; allowed are 1 to 12 or names such as May.")


def months(text: str, *, label: str) -> list[int]:
    """Months as a list or span: "5-10", "May to October", "4 5 6", "nov-feb"; empty is all year."""
    plain = re.sub(r"\s*(?:-|–|\bto\b)\s*", "-", text.strip(), flags=re.IGNORECASE)
    found: set[int] = set()
    for part in re.split(r"[\s,;/]+", plain):
        if not part:
            continue
        first, _, last = part.partition("-")
        begin = month(first, label=label)
        end = month(last, label=label) if last else begin
        found |= {(begin - 1 + n) % 12 + 1 for n in range((end - begin) % 12 + 1)}
    return sorted(found)


def choice(text: str, choices: Mapping[str, str], *, label: str) -> str:
    """The key of a choice, by its key or its words, however spaced, hyphened or capitalised."""

    def bare(word: str) -> str:
        return re.sub(r"[\s_\-]+", "", word).casefold()

    by_word = {bare(word): key for key, name in choices.items() for word in (key, name)}
    if bare(text) not in by_word:
        raise ValueError(f"{label} {shown(text)} is not known; allowed are {', '.join(choices.values())}.")
    return by_word[bare(text)]
