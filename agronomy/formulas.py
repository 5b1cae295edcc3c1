"""The formulas of the program in words and signs, each with its source, for the page that lists them.

The tables behind them are shown by `agronomy.lime_requirement.calibrations` and `agronomy.liming_material.schemes`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Formula:
    """One formula: what it gives, how, in which unit, and the key of its source."""

    subject: str
    name: str
    formula: str
    unit: str
    source: str


FORMULAS: tuple[Formula, ...] = (
    Formula("Lime requirement", "Acidity by the Mehlich buffer", "4 x (6.6 - buffer pH)", "meq/100 cm3",
            "mehlich_north_carolina"),
    Formula("Lime requirement", "Lime by Mehlich acidity", "acidity x (target - pH) / (6.6 - pH)", "ton/acre",
            "mehlich_north_carolina"),
    Formula("Lime requirement", "Acid share of the exchange, h, at a pH", "pH = 7.79 - 5.55 h + 2.27 h2", "share",
            "adams_evans_1962"),
    Formula("Lime requirement", "Lime by the Adams-Evans buffer",
            "8,000 x (8.00 - buffer pH) / h(pH) x (h(pH) - h(target)) x 1.5", "lb/acre of ordinary stone",
            "adams_evans_1962"),
    Formula("Lime requirement", "Lime from CEC, no buffer", "1,000 x CEC x (h(pH) - h(target))", "lb/acre, an estimate",
            "cec_estimate"),
    Formula("Lime requirement", "Lime from exchangeable acidity, Ea", "1,000 x Ea to pH 7.0; 840 x Ea to 6.5",
            "lb/acre", "modified_mehlich_penn_state"),
    Formula("Lime requirement", "Lime from lime buffer capacity, LBC", "2 x LBC x (target - pH)", "lb/acre",
            "georgia_lbc"),
    Formula("Lime requirement", "For the depth limed", "requirement x depth limed / depth of the table",
            "the table's unit", "depth_tri_state"),
    Formula("Lime requirement", "A dressing still to react at the sample", "1 - 0.08 x months (organic soils 0.16)",
            "share", "residual_north_carolina"),
    Formula("Lime material", "CCE of a pure compound",
            "(CaCO3 / 2) / (its weight / acid it takes up) x 100, by atomic weights", "%", "atomic_weights"),
    Formula("Lime material", "Effective value", "CCE x fineness x dry matter", "%", "fineness_schemes"),
    Formula("Lime material", "Rate of a material", "requirement x reference value / value of the same kind",
            "the requirement's unit", "lime_reference_kinds"),
    Formula("Acidity", "Lime used up by nitrogen", "lb N x lb CaCO3 per lb N of its source", "lb CaCO3",
            "nitrogen_acidity_cornell"),
    Formula("Acidity", "The most that nitrogen can use up", "lb N x acid equivalents x (CaCO3 / 2) / N", "lb CaCO3",
            "nitrogen_acidity_full_nitrification"),
    Formula("Spreading", "What a spreader delivers", "lb collected x 43,560 / (swath x distance)", "lb/acre",
            "utah_spreader"),
)  # fmt: skip
