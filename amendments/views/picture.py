"""The plot's pH picture: tests with their error, dressings, and the stored forecast's band."""

from __future__ import annotations

import datetime as dt
from typing import Any

from amendments.queries.inputs import PlotInputs
from plots.pictures import Picture, ph_picture

TEST_ERROR = 0.25  # pH, about one standard deviation of a composite between seasons (common practice: 0.2 to 0.3)


def plot_picture(inputs: PlotInputs, standing: dict[str, Any], *, today: dt.date) -> Picture | None:
    """The picture, or None for a plot without a pH."""
    used = inputs.test_used
    if used is None:
        return None
    alike = [test for test in reversed(inputs.tests) if test.soil.ph_method == used.soil.ph_method]
    tests = [(t.sampled_on, t.soil.soil_ph, TEST_ERROR) for t in alike if t.soil.soil_ph is not None]
    dressings = [
        (record.spread_on, record.frozen["name"], float(record.lb_per_acre), record.frozen["kind"])
        for record in inputs.records
        if record.amount_lb
    ]
    return ph_picture(
        tests,
        dressings,
        band_of(inputs),
        target=standing["target_ph"],
        floor=standing["floor_ph"],
        upper=standing["upper_ph"],
        today=today,
        retest_on=standing["retest_due_on"],
    )


def band_of(inputs: PlotInputs) -> list[tuple[dt.date, float, float, float]]:
    """The stored forecast as (month, low, median, high)."""
    if inputs.forecast is None:
        return []
    result = inputs.forecast.result
    months = [dt.date.fromisoformat(month) for month in result["months"]]
    return list(zip(months, result["low"], result["median"], result["high"], strict=True))
