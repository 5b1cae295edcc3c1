"""What a plot's planting needs of nutrients, less what is there already."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from agronomy.nitrogen import legume_credit
from agronomy.nutrients import (
    Credit,
    LabLine,
    PlantingFacts,
    PlotNeed,
    SoilReading,
    choose_calibration,
    need,
    soil_test_rating,
)
from amendments.models import SpreadingRecord
from amendments.queries.inputs import PlotInputs, demand_of
from amendments.services.materials import grade
from plots.models import Planting
from plots.seasons import season_days
from soiltests.queries import TestOfDate

LEAD_DAYS = 90
"""Fertilizer spread up to this long before a planting's first season counts for it (our convention)."""
_NUTRIENTS = ("n", "p2o5", "k2o")
_MAIN = ("p", "k")


def readings_of(test: TestOfDate | None) -> tuple[SoilReading, ...]:
    """The test's nutrients as the calibrations take them."""
    if test is None:
        return ()
    return tuple(
        SoilReading(one.nutrient, one.value, one.unit, one.extractant, one.below_detection)
        for one in test.nutrients
        if one.nutrient not in ("fe", "na")
    )


def nutrient_test(inputs: PlotInputs) -> TestOfDate | None:
    """The newest date on which P or K was measured."""
    return next((t for t in inputs.tests if any(one.nutrient in _MAIN for one in t.nutrients)), None)


def choice_for(inputs: PlotInputs):  # type: ignore[no-untyped-def]
    """Whose table the planting goes by, and why."""
    property_ = inputs.plot.property
    return choose_calibration(
        inputs.demand,
        state=property_.state,
        chosen=property_.fertilizer_calibration,
        by_group=property_.calibration_by_crop_group,
    )


def planting_facts(planting: Planting | None) -> PlantingFacts:
    if planting is None:
        return PlantingFacts()
    goal, chosen = planting.yield_goal, planting.n_chosen_lb_per_acre
    return PlantingFacts(
        inoculated=planting.inoculated,
        legume_share_percent=planting.legume_share_percent,
        use=planting.use,  # type: ignore[arg-type]
        establishment=planting.establishment,  # type: ignore[arg-type]
        yield_goal=None if goal is None else float(goal),
        yield_unit=planting.yield_unit,
        n_chosen_lb_per_acre=None if chosen is None else float(chosen),
    )


def counts_from(inputs: PlotInputs, *, today: dt.date) -> dt.date:
    """From which day on fertilizer counts for the planting: near its first season, for an older stand a year back.

    A perennial's need is a year's, so what was spread longer ago than a year does not count against this year's.
    """
    planting = inputs.planting
    if planting is None:
        return today - dt.timedelta(days=365)
    begins = season_days(planting.first_season)[0] - dt.timedelta(days=LEAD_DAYS)
    return max(begins, today - dt.timedelta(days=365)) if planting.last_season is None else begins


def spread_credits(inputs: PlotInputs, *, today: dt.date) -> list[Credit]:
    """Nutrients already spread for the planting, lb/acre of the plot. P and K only after the test that asks for them.

    What was spread before the sample was taken is in the test already.
    """
    since = counts_from(inputs, today=today)
    until = season_days(inputs.planting.last_season)[1] if inputs.planting and inputs.planting.last_season else today
    test = nutrient_test(inputs)
    totals = dict.fromkeys(_NUTRIENTS, 0.0)
    for record in _fertilizer(inputs.records):
        if not since <= record.spread_on <= until:
            continue
        for name, percent in zip(_NUTRIENTS, grade(record.frozen), strict=True):
            seen = test is not None and record.spread_on <= test.sampled_on and name != "n"
            totals[name] += 0.0 if seen else float(record.amount_lb) * percent / 100
    acres = float(inputs.plot.acres)
    return [Credit(name, round(lb / acres, 4), "spread") for name, lb in totals.items() if lb]  # type: ignore[arg-type]


def _fertilizer(records: Sequence[SpreadingRecord]) -> list[SpreadingRecord]:
    return [record for record in records if record.frozen.get("kind") == "fertilizer"]


def legume_credits(inputs: PlotInputs) -> list[Credit]:
    """Nitrogen that the planting before leaves behind, if it was a legume; a soil test does not show it."""
    planting = inputs.planting
    before = next((p for p in inputs.plantings if planting and p.first_season < planting.first_season), None)
    if before is None:
        return []
    share = None if before.legume_share_percent is None else float(before.legume_share_percent)
    found = legume_credit(demand_of(before, inputs.own_crops), legume_share_percent=share)
    return [] if found is None or found.low <= 0 else [Credit("n", found.low, "legume", found.source)]


def lab_line(test: TestOfDate | None) -> LabLine | None:
    """The lab's own N-P2O5-K2O of the newest test that printed one."""
    if test is None:
        return None
    for one in test.tests:
        if one.lab_n is not None or one.lab_p2o5 is not None or one.lab_k2o is not None:
            printed = (None if value is None else float(value) for value in (one.lab_n, one.lab_p2o5, one.lab_k2o))
            return LabLine(*printed, crop=one.lab_crop)
    return None


def volume_weight(test: TestOfDate | None) -> float | None:
    """Grams a cubic centimetre, where the report gives it."""
    if test is None:
        return None
    rows = [row for one in test.tests for row in one.measurements.all() if row.analyte == "volume_weight"]
    return float(rows[0].converted) if rows else None


def fertilizer_need(inputs: PlotInputs, *, today: dt.date) -> PlotNeed:
    """What the planting needs this season, with its band, working and findings."""
    test = nutrient_test(inputs)
    extra = {} if test is None else {"soil": test.soil}
    return need(
        inputs.demand,
        readings_of(test),
        calibration=choice_for(inputs),
        planting=planting_facts(inputs.planting),
        volume_weight_g_cm3=volume_weight(test),
        credits=[*legume_credits(inputs), *spread_credits(inputs, today=today)],
        lab_line=lab_line(test),
        **extra,
    )


def ratings(inputs: PlotInputs) -> tuple[str, str]:
    """P and K standing by the publication's own class names; empty where it cannot read the figure."""
    test = nutrient_test(inputs)
    by_nutrient = {reading.nutrient: reading for reading in readings_of(test)}
    return tuple(_rating(inputs, by_nutrient.get(name), volume_weight(test)) for name in _MAIN)  # type: ignore[return-value]


def _rating(inputs: PlotInputs, reading: SoilReading | None, weight: float | None) -> str:
    if reading is None:
        return ""
    try:
        return soil_test_rating(choice_for(inputs).key, reading=reading, volume_weight_g_cm3=weight)
    except ValueError:
        return ""
