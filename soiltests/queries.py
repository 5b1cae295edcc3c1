"""The test a plot is judged by, and the series behind it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import fmean
from typing import Any

from agronomy.soil import WATER_METHODS, LabLimeLine, SoilFacts
from plots.models import Plot
from soiltests.analytes import FACT_OF_ANALYTE, NUTRIENTS
from soiltests.lab_lines import lab_lime_line
from soiltests.models import SoilTest

# A sample fits a plot when it starts at the surface and reaches between half and twice the depth limed: a check of
# the top 2 inches says too little of a 6-inch layer, a 24-inch core too much of it. Our rule.
SHALLOWEST_SHARE, DEEPEST_SHARE = Decimal("0.5"), Decimal("2")


@dataclass(frozen=True, slots=True)
class NutrientMean:
    """The mean of one nutrient over the tests of a date, with what the figure cannot be read without."""

    nutrient: str
    value: float
    unit: str
    extractant: str
    below_detection: bool


@dataclass(frozen=True, slots=True)
class TestOfDate:
    """All tests of a plot that were sampled on one date, as one: means, and what went into them."""

    sampled_on: dt.date
    tests: tuple[SoilTest, ...]
    soil: SoilFacts
    nutrients: tuple[NutrientMean, ...]
    mixed_ph_methods: bool

    @property
    def count(self) -> int:
        return len(self.tests)

    @property
    def is_shared(self) -> bool:
        return any(test.sample.is_shared for test in self.tests)


def fits(test: SoilTest, plot: Plot) -> bool:
    """Whether a test's depth speaks for the depth the plot is limed to."""
    sample = test.sample
    if sample.depth_top_in > 1:
        return False
    limed = plot.depth_limed_in
    return limed * SHALLOWEST_SHARE <= sample.depth_bottom_in <= limed * DEEPEST_SHARE


def _mean(values: Iterable[Decimal | float | None]) -> float | None:
    known = [float(value) for value in values if value is not None]
    return fmean(known) if known else None


def _of_one_method(tests: Sequence[SoilTest]) -> list[SoilTest]:
    """The tests whose pH may be averaged: those in water if any, else those of the first method met."""
    with_ph = [test for test in tests if test.ph is not None]
    in_water = [test for test in with_ph if test.ph_method in WATER_METHODS]
    if in_water:
        return in_water
    return [test for test in with_ph if test.ph_method == with_ph[0].ph_method] if with_ph else []


def _lab_line(tests: Sequence[SoilTest]) -> LabLimeLine | None:
    """The labs' lime line of a date; None if there is none, or if several disagree in what they are about."""
    lines = [line for test in tests if (line := lab_lime_line(test)) is not None]
    if not lines:
        return None
    first = lines[0]
    about = {(l.unit, l.target_ph, l.depth_in, l.reference_kind, l.reference_value_percent) for l in lines}  # noqa: E741
    if len(about) > 1:
        return None
    return LabLimeLine(
        amount=fmean(line.amount for line in lines),
        unit=first.unit,
        target_ph=first.target_ph,
        depth_in=first.depth_in,
        reference_kind=first.reference_kind,
        reference_value_percent=first.reference_value_percent,
        reference_scheme=first.reference_scheme,
    )


def _by_analyte(tests: Sequence[SoilTest]) -> Mapping[str, list[Any]]:
    found: dict[str, list[Any]] = defaultdict(list)
    for test in tests:
        for measurement in test.measurements.all():
            found[measurement.analyte].append(measurement)
    return found


def _nutrient_means(by_analyte: Mapping[str, list[Any]]) -> tuple[NutrientMean, ...]:
    """Means of nutrients measured alike. Another extractant or unit is another quantity: the first one met stays."""
    means = []
    for nutrient in NUTRIENTS:
        rows = by_analyte.get(nutrient)
        if not rows:
            continue
        first = rows[0]
        alike = [r for r in rows if (r.extractant, r.converted_unit) == (first.extractant, first.converted_unit)]
        value = fmean(float(row.converted) for row in alike)
        below = all(row.below_detection for row in alike)
        means.append(NutrientMean(nutrient, value, first.converted_unit, first.extractant, below))
    return tuple(means)


def of_one_date(plot: Plot, tests: Sequence[SoilTest]) -> TestOfDate:
    """Several tests of one plot and date as one."""
    same = _of_one_method(tests)
    buffered = [test for test in tests if test.buffer_ph is not None]
    methods = {test.buffer_method for test in buffered}
    by_analyte = _by_analyte(tests)
    facts = {
        field: _mean(row.converted for row in by_analyte.get(analyte, ())) for analyte, field in FACT_OF_ANALYTE.items()
    }
    depth = float(tests[0].sample.depth_bottom_in)
    soil = SoilFacts(
        soil_ph=_mean(test.ph for test in same),
        ph_method=same[0].ph_method if same else "water_1_1",
        buffer_ph=_mean(test.buffer_ph for test in buffered) if len(methods) == 1 else None,
        buffer_method=(methods.pop() or None) if len(methods) == 1 else None,
        depth_in=depth,
        texture=plot.texture or None,
        organic_soil=plot.organic_soil,
        lab_line=_lab_line(tests),
        magnesium_ppm=_mean(r.converted for r in by_analyte.get("mg", ()) if r.converted_unit == "ppm"),
        **facts,
    )
    mixed = len({test.ph_method in WATER_METHODS for test in tests if test.ph is not None}) > 1
    return TestOfDate(tests[0].sample.sampled_on, tuple(tests), soil, _nutrient_means(by_analyte), mixed)


def series(plot: Plot, tests: Sequence[SoilTest]) -> tuple[TestOfDate, ...]:
    """A plot's fitting tests by date, newest first. The first with a pH is the test used."""
    by_date: dict[dt.date, list[SoilTest]] = defaultdict(list)
    for test in tests:
        if fits(test, plot):
            by_date[test.sample.sampled_on].append(test)
    return tuple(of_one_date(plot, by_date[day]) for day in sorted(by_date, reverse=True))


def tests_by_plot(plot_ids: Sequence[int]) -> dict[int, list[SoilTest]]:
    """Every standing test of these plots in two queries."""
    found: dict[int, list[SoilTest]] = defaultdict(list)
    for test in SoilTest.objects.of_plots(list(plot_ids)):
        found[test.sample.plot_id].append(test)
    return found
