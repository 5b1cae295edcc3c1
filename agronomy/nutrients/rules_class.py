"""Rules that go by classes: by the reading's class and a yield, or by the rating word that the lab prints."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from agronomy.findings import Finding, Step, check, note, stop
from agronomy.nutrients.kinds import NUTRIENT_NAMES, Nutrient
from agronomy.nutrients.reading import Scale
from agronomy.nutrients.rules import Question, Rate, nearest_rating
from agronomy.nutrients.yields import yield_goal

TINY = 1e-9  # what float conversions may add to a figure that stands on a class limit


@dataclass(frozen=True, slots=True)
class ClassesByYield:
    """A printed table, yield by soil-test class, and beside it the publication's equation.

    `upper` gives for each scale the reading up to which each class but the last reaches. `equation` gives for each
    scale the pair (c, m) of (c - m x reading) x yield, empty where there is none; a publication's own equation
    (`equation_first`) is used before its rounded table.
    """

    nutrient: Nutrient
    scales: tuple[Scale, ...]
    source: str
    upper: tuple[tuple[float, ...], ...]
    yields: tuple[float, ...]
    yield_unit: str
    rates: tuple[tuple[float, ...], ...]
    equation: tuple[tuple[float, float], ...] = ()
    equation_first: bool = False
    equation_source: str = ""

    def rate(self, question: Question, scale: Scale | None) -> Rate:
        """lb/acre from the reading (0 or more) and the yield."""
        if question.value is None or scale is None:
            raise ValueError("a class table needs the reading")
        goal, findings, steps = yield_goal(question, unit=self.yield_unit)
        if goal is None:
            return Rate(None, findings=findings)
        place = self.scales.index(scale)
        wanted = question.form or ("equation" if self.equation_first else "table")
        if wanted == "equation" and self.equation:
            step = self._by_equation(question.value, goal, place)
            return Rate(step.value, (*steps, step), findings)
        step, more = self._by_table(question.value, goal, place)
        return Rate(step.value, (*steps, step), findings + more)

    def _by_equation(self, value: float, goal: float, place: int) -> Step:
        constant, slope = self.equation[place]
        lb = max(0.0, (constant - slope * value) * goal)
        formula = f"({constant:g} - {slope:g} x {value:g}) x {goal:g}"
        return Step(f"{NUTRIENT_NAMES[self.nutrient]} by equation", formula, lb, "lb/acre",
                    self.equation_source or self.source)  # fmt: skip

    def _by_table(self, value: float, goal: float, place: int) -> tuple[Step, tuple[Finding, ...]]:
        column = bisect_left(self.upper[place], value - TINY)
        least, most = self.yields[0], self.yields[-1]
        inside = min(max(goal, least), most)
        above = min(bisect_right(self.yields, inside), len(self.yields) - 1)
        low, high = self.yields[above - 1], self.yields[above]
        share = (inside - low) / (high - low)
        lb = self.rates[above - 1][column] * (1 - share) + self.rates[above][column] * share
        findings: tuple[Finding, ...] = ()
        if inside != goal:
            findings = (
                check("yield_outside_table", source=self.source, goal=goal, least=least, most=most,
                      taken=inside, unit=self.yield_unit),
            )  # fmt: skip
        formula = f"class {column + 1} of {len(self.rates[0])} at {inside:g} {self.yield_unit}/acre"
        return Step(f"{NUTRIENT_NAMES[self.nutrient]} by table", formula, lb, "lb/acre", self.source), findings


@dataclass(frozen=True, slots=True)
class RatesByRating:
    """Rates by the lab's own rating word, a row for each crop of the publication.

    The limits of its classes are not known here, so a number alone is refused. Where the rate hangs on the soil,
    `coarse` holds the sandy end and `rates` the clayey one; textures between get the middle, as an estimate.
    """

    nutrient: Nutrient
    scales: tuple[Scale, ...]
    source: str
    title: str
    ratings: tuple[str, ...]
    rates: Mapping[str, tuple[float, ...]]
    coarse: Mapping[str, tuple[float, ...]]

    def rate(self, question: Question, scale: Scale | None) -> Rate:
        """lb/acre from the rating."""
        name = NUTRIENT_NAMES[self.nutrient]
        classes = ", ".join(self.ratings)
        if not question.rating:
            return Rate(None, findings=(stop("rating_needed", source=self.source, nutrient=name,
                                             calibration=self.title, ratings=classes),))  # fmt: skip
        rating = nearest_rating(question.rating, self.ratings)
        if rating is None:
            return Rate(None, findings=(stop("rating_not_known", source=self.source, nutrient=name,
                                             rating=question.rating, ratings=classes),))  # fmt: skip
        place = self.ratings.index(rating)
        fine = self.rates[question.published_crop][place]
        coarse_row = self.coarse.get(question.published_crop)
        if coarse_row is None:
            return self._rate(fine, rating, f"rated {rating}")
        return self._by_texture(fine, coarse_row[place], rating, question.soil.texture)

    def _by_texture(self, fine: float, coarse: float, rating: str, texture: str | None) -> Rate:
        if texture in ("sand", "loamy_sand"):
            return self._rate(coarse, rating, f"rated {rating}, sand")
        if texture in ("clay", "silty_clay"):
            return self._rate(fine, rating, f"rated {rating}, clay")
        lb, low, high = (fine + coarse) / 2, min(fine, coarse), max(fine, coarse)
        found = note("rate_between_textures", source=self.source, nutrient=NUTRIENT_NAMES[self.nutrient],
                     lb_per_acre=lb, clay=fine, sand=coarse)  # fmt: skip
        step = Step(NUTRIENT_NAMES[self.nutrient], f"rated {rating}, between clay {fine:g} and sand {coarse:g}", lb,
                    "lb/acre", self.source)  # fmt: skip
        return Rate(lb, (step,), (found,), low, high, rating)

    def _rate(self, lb: float, rating: str, formula: str) -> Rate:
        step = Step(NUTRIENT_NAMES[self.nutrient], formula, lb, "lb/acre", self.source)
        return Rate(lb, (step,), rating=rating)


def class_of(value: float, *, upper: Sequence[float], names: Sequence[str]) -> str:
    """The class of a reading; a limit belongs to the class below it."""
    return names[bisect_left(upper, value - TINY)]
