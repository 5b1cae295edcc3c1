"""What every rule of a calibration is asked and what it answers; and the rules that read an index equation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from agronomy.crops import Crop
from agronomy.findings import Finding, Step
from agronomy.nutrients.kinds import Nutrient, PlantingFacts
from agronomy.nutrients.reading import Scale
from agronomy.soil import SoilFacts


@dataclass(frozen=True, slots=True)
class Question:
    """What a rule may need: the reading in its own unit, or the lab's rating, and the facts around it.

    `crop` is the crop of our catalogue, `published_crop` its name in the publication. `form` asks for the
    `equation` or the `table` where a publication has both.
    """

    value: float | None
    rating: str
    soil: SoilFacts
    planting: PlantingFacts
    crop: Crop | None
    published_crop: str
    form: str = ""


@dataclass(frozen=True, slots=True)
class Rate:
    """lb/acre, None where the rule cannot answer: then a stop finding says why. `low` and `high` are the rule's own
    spread where it has one."""

    lb_per_acre: float | None
    steps: tuple[Step, ...] = ()
    findings: tuple[Finding, ...] = ()
    low: float | None = None
    high: float | None = None
    rating: str = ""


class Rule(Protocol):
    """One nutrient of one calibration."""

    @property
    def nutrient(self) -> Nutrient: ...

    @property
    def scales(self) -> tuple[Scale, ...]:
        """What it reads; empty for a rule that goes by the lab's rating."""
        ...

    @property
    def source(self) -> str: ...

    def rate(self, question: Question, scale: Scale | None) -> Rate: ...


Parabola = tuple[float, float, float]


def first_root(parabola: Parabola) -> float | None:
    """The lower root of a I^2 + b I + c; None where it stays above 0. The parabola opens upward and falls at 0."""
    a, b, c = parabola
    discriminant = b * b - 4 * a * c
    return None if discriminant < 0 else (-b - math.sqrt(discriminant)) / (2 * a)


def falling_parabola(parabola: Parabola, index: float) -> float:
    """The rate in lb/acre at a soil-test index of 0 or more.

    The parabola turns up again: from its first root on the rate is 0, and one without a root keeps the value of
    its vertex from there on.
    """
    a, b, c = parabola
    root = first_root(parabola)
    if root is not None and index >= root:
        return 0.0
    index = min(index, -b / (2 * a))
    return max(0.0, a * index * index + b * index + c)


@dataclass(frozen=True, slots=True)
class IndexEquation:
    """A rate by an equation of the soil-test index, one for mineral and one for organic soils."""

    nutrient: Nutrient
    scales: tuple[Scale, ...]
    source: str
    number: int
    parabola: Parabola
    number_organic: int
    parabola_organic: Parabola

    def rate(self, question: Question, scale: Scale | None) -> Rate:
        """lb/acre from the index (0 or more)."""
        organic = question.soil.organic_soil
        number = self.number_organic if organic else self.number
        parabola = self.parabola_organic if organic else self.parabola
        index = question.value
        if index is None:
            raise ValueError("an index equation needs the soil-test index")
        lb = falling_parabola(parabola, index)
        a, b, c = parabola
        formula = f"{a:g} x {index:g}^2 - {-b:g} x {index:g} + {c:g}"
        root = first_root(parabola)
        if root is not None and index >= root:
            formula = f"index {index:g} is at or past {root:.4g}, where equation {number} reaches 0"
        elif index > -b / (2 * a):
            formula = f"index {index:g} is past {-b / (2 * a):.4g}, where equation {number} is least"
        return Rate(lb, (Step(f"Equation {number}", formula, lb, "lb/acre", self.source),))


def nearest_rating(word: str, allowed: Sequence[str]) -> str | None:
    """A lab's rating as the publication spells it, case and spaces aside; None if it has no such class."""
    plain = " ".join(word.casefold().replace("_", " ").split())
    return next((name for name in allowed if name.casefold() == plain), None)
