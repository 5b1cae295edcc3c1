"""Rules that build a soil test up to a critical level and then keep pace with removal."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from agronomy.findings import Finding, Step, note, stop
from agronomy.nutrients.kinds import NUTRIENT_NAMES, Nutrient
from agronomy.nutrients.reading import Scale
from agronomy.nutrients.rules import Question, Rate
from agronomy.nutrients.yields import REMOVAL_SHARE, removal_finding, yield_goal


@dataclass(frozen=True, slots=True)
class CropLevels:
    """One crop of a build-up and maintenance rule: its critical level in ppm (`critical` + `critical_cec` x CEC; if
    `critical_light` is given, that at a CEC of 5 or less) and what one yield unit removes in lb."""

    critical: float
    critical_cec: float
    critical_light: float | None
    removal_lb_per_unit: float
    yield_unit: str


@dataclass(frozen=True, slots=True)
class BuildUpAndMaintain:
    """(critical - reading) x build-up + yield x removal (+ `extra`) below the critical level; yield x removal
    (+ `extra`) up to `plateau` ppm above it; then down to 0 over `drawdown` ppm, or at once where that is 0.

    The build-up is `build_up` + `build_up_cec` x CEC lb for 1 ppm. `plateau_light` holds at a CEC of 5 or less.
    """

    nutrient: Nutrient
    scales: tuple[Scale, ...]
    source: str
    crops: Mapping[str, CropLevels]
    build_up: float
    build_up_cec: float
    extra_lb: float
    plateau: float
    plateau_light: float
    drawdown: float

    @property
    def needs_cec(self) -> bool:
        """Whether the CEC stands in any part of the rule."""
        return self.build_up_cec > 0 or any(c.critical_cec or c.critical_light for c in self.crops.values())

    def rate(self, question: Question, scale: Scale | None) -> Rate:
        """lb/acre from the reading (0 or more, ppm), the yield and, for potash, the CEC."""
        if question.value is None:
            raise ValueError("a build-up rule needs the reading")
        name = NUTRIENT_NAMES[self.nutrient]
        cec = question.soil.cec_meq_100g
        if self.needs_cec and cec is None:
            return Rate(None, findings=(stop("cec_needed", source=self.source, nutrient=name),))
        levels = self.crops[question.published_crop]
        goal, findings, steps = yield_goal(question, unit=levels.yield_unit)
        if goal is None:
            return Rate(None, findings=findings)
        critical, plateau = self._levels(levels, cec or 0.0)
        full = goal * levels.removal_lb_per_unit
        lb, formula = self._lb(question, critical, plateau, full, cec or 0.0, REMOVAL_SHARE[question.planting.use][0])
        low, high = (
            self._lb(question, critical, plateau, full, cec or 0.0, share)[0]
            for share in REMOVAL_SHARE[question.planting.use][1:]
        )
        steps += (
            Step(f"Critical level of {name}", "", critical, "ppm", self.source),
            Step(f"{name} rate", formula, lb, "lb/acre", self.source),
        )
        findings += removal_finding(question.planting.use, nutrient=name, low=low, high=high)
        return Rate(lb, steps, findings, low, high)

    def _levels(self, levels: CropLevels, cec: float) -> tuple[float, float]:
        light = levels.critical_light is not None and cec <= 5
        if light and levels.critical_light is not None:
            return levels.critical_light, self.plateau_light
        return levels.critical + levels.critical_cec * cec, self.plateau

    def _lb(
        self, question: Question, critical: float, plateau: float, full: float, cec: float, share: float
    ) -> tuple[float, str]:
        value = question.value or 0.0
        kept = full * share + self.extra_lb
        parts = f"{full:g} x {share:g}" if share != 1 else f"{full:g}"
        if self.extra_lb:
            parts += f" + {self.extra_lb:g}"
        if value < critical:
            per_ppm = self.build_up + self.build_up_cec * cec
            return (critical - value) * per_ppm + kept, f"({critical:g} - {value:g}) x {per_ppm:g} + {parts}"
        top = critical + plateau
        if value <= top:
            return kept, parts
        if value >= top + self.drawdown:
            return 0.0, f"{value:g} ppm is past {top + self.drawdown:g} ppm"
        left = 1 - (value - top) / self.drawdown
        return kept * left, f"({parts}) x (1 - ({value:g} - {top:g}) / {self.drawdown:g})"


@dataclass(frozen=True, slots=True)
class SquareRootBuildUp:
    """factor x (sqrt(desired) - sqrt(reading)) / years, in lb/acre a year; the build-up alone, without removal.

    `desired` gives for each crop of the publication the pair (base, lb/acre for each meq of CEC), in lb/acre.
    """

    nutrient: Nutrient
    scales: tuple[Scale, ...]
    source: str
    factor: float
    desired: Mapping[str, tuple[float, float]]
    years: float

    def rate(self, question: Question, scale: Scale | None) -> Rate:
        """lb/acre a year from the reading (0 or more, lb/acre) and, for potash, the CEC."""
        if question.value is None:
            raise ValueError("a build-up rule needs the reading")
        name = NUTRIENT_NAMES[self.nutrient]
        base, by_cec = self.desired[question.published_crop]
        cec = question.soil.cec_meq_100g
        if by_cec and cec is None:
            return Rate(None, findings=(stop("cec_needed", source=self.source, nutrient=name),))
        desired = base + by_cec * (cec or 0.0)
        lb = max(0.0, self.factor * (math.sqrt(desired) - math.sqrt(question.value)) / self.years)
        formula = f"{self.factor:g} x (sqrt {desired:g} - sqrt {question.value:g}) / {self.years:g} years"
        findings: tuple[Finding, ...] = (
            note("build_up_only", source=self.source, nutrient=name, years=self.years, desired=desired),
        )
        return Rate(lb, (Step(f"{name} build-up a year", formula, lb, "lb/acre", self.source),), findings)
