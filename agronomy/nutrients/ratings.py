"""How publications rate a reading, each by its own class names, and side by side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from agronomy.findings import Finding
from agronomy.nutrients.calibrations import Calibration, RatingTable, calibration, calibrations
from agronomy.nutrients.kinds import SoilReading
from agronomy.nutrients.reading import fit, refusal
from agronomy.nutrients.rules_class import class_of
from agronomy.sources import Status, source


@dataclass(frozen=True, slots=True)
class Standing:
    """How one publication rates a reading: its class, the figure in its unit, and from where it calls it enough.

    `rating` is empty where it cannot take the reading: a finding says why. `enough_from` is None where it names no
    class as enough.
    """

    calibration: str
    title: str
    rating: str
    value: float | None
    unit: str
    enough_from: float | None
    is_enough: bool | None
    is_estimate: bool
    status: Status
    findings: tuple[Finding, ...] = ()


def rating_of(
    reading: SoilReading | None, known: Calibration, volume_weight_g_cm3: float | None = None,
    organic_soil: bool = False,
) -> str | None:  # fmt: skip
    """The class of a reading as the calibration's publication names it; None where it has none for it."""
    table = known.ratings.get(reading.nutrient) if reading else None
    if table is None or reading is None or reading.value is None:
        return None
    if refusal(reading, table.scale, nutrient=reading.nutrient.title(), calibration=known.title) is not None:
        return None
    fitted = fit(reading, table.scale, nutrient=reading.nutrient.title(), calibration=known.title,
                 volume_weight_g_cm3=volume_weight_g_cm3, organic_soil=organic_soil)  # fmt: skip
    return None if fitted.value is None else class_of(fitted.value, upper=table.upper, names=table.names)


def soil_test_rating(key: str, *, reading: SoilReading, volume_weight_g_cm3: float | None = None) -> str:
    """The class of a reading by one publication; raises `ValueError` where it has no class for it, with the reason."""
    known = calibration(key)
    table = known.ratings.get(reading.nutrient)
    if table is None:
        rated = ", ".join(known.ratings) or "nothing"
        raise ValueError(f"{known.title} does not rate {reading.nutrient}; it rates {rated}")
    standing = _standing(known, table, reading, volume_weight_g_cm3, False)
    if not standing.rating:
        values = dict(standing.findings[0].values)
        raise ValueError(f"{known.title} cannot take this reading: {standing.findings[0].code} {values}")
    return standing.rating


def compare(
    reading: SoilReading, *, keys: Iterable[str] = (), volume_weight_g_cm3: float | None = None,
    organic_soil: bool = False,
) -> tuple[Standing, ...]:  # fmt: skip
    """The reading's standing by every publication that rates its nutrient, or by those of `keys`.

    Publications disagree on what is enough: those are shown side by side, none is taken for the truth.
    """
    known = [calibration(key) for key in keys] or list(calibrations().values())
    return tuple(
        _standing(entry, table, reading, volume_weight_g_cm3, organic_soil)
        for entry in known
        if (table := entry.ratings.get(reading.nutrient)) is not None
    )


@lru_cache(maxsize=128)
def critical_spread(element: str, extractant: str) -> tuple[tuple[str, float, str], ...]:
    """Where each publication sets "enough" for an element by an extractant: title, limit, unit, lowest first in its
    own unit."""
    found = [
        (known.title, table.upper[table.names.index(table.enough_from) - 1], table.scale.unit)
        for known in calibrations().values()
        if (table := known.ratings.get(element)) is not None
        and table.enough_from
        and extractant in table.scale.extractants
    ]
    return tuple(sorted(found, key=lambda entry: entry[1] / (2 if entry[2] == "lb/acre" else 1)))


def _standing(
    known: Calibration, table: RatingTable, reading: SoilReading, volume_weight: float | None, organic: bool
) -> Standing:  # fmt: skip
    fitted = fit(reading, table.scale, nutrient=reading.nutrient.title(), calibration=known.title,
                 volume_weight_g_cm3=volume_weight, organic_soil=organic)  # fmt: skip
    limit = table.upper[table.names.index(table.enough_from) - 1] if table.enough_from else None
    rating, enough = "", None
    if fitted.value is not None:
        rating = class_of(fitted.value, upper=table.upper, names=table.names)
        if table.enough_from:
            enough = table.names.index(rating) >= table.names.index(table.enough_from)
    return Standing(
        known.key, known.title, rating, fitted.value, table.scale.unit, limit, enough, fitted.is_estimate,
        source(table.source).status, fitted.findings,
    )  # fmt: skip
