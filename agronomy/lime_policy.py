"""Decisions about lime that are the manager's: how deep, how high on light soil, and how long before sowing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from agronomy.findings import Finding, check, note
from agronomy.months import add_months

LIGHT_SOIL_TARGET = 6.0
LIGHT_SOIL_LIMIT = 6.5
"""Sand, loamy sand and a CEC under 5: target 6.0 where nothing else is asked, never above 6.5 without a warning."""
SURFACE_DEPTH_IN: Mapping[str, tuple[float, str]] = {
    "smp_tri_state_1995": (4.0, "depth_tri_state"),
    "smp_iowa_2002": (3.0, "surface_depth_iowa"),
}
OTHER_SURFACE_DEPTH_IN = (3.0, "surface_depth_iowa")
TILLED_DEPTHS_IN = (1.0, 16.0)
MONTHS_BEFORE_SOWING = 6
MONTHS_BEFORE_ALFALFA = 4
MONTHS_AT_LEAST = 2
MONTHS_TO_FULL_EFFECT = 9


@dataclass(frozen=True, slots=True)
class DepthLimed:
    """Inches of soil that a dressing works on, and the source of a depth that is not the manager's own."""

    depth_in: float
    source: str = ""


def depth_limed(calibration: str | None, *, tilled: bool, till_depth_in: float | None = None) -> DepthLimed:
    """The depth a plot is limed for: its till depth; for sod, no-till and foot plots the publication's surface depth.

    A calibration that prints no surface depth takes 3 inches (Iowa). Raises `ValueError` for a tilled plot without a
    depth of 1 to 16 inches.
    """
    if not tilled:
        depth, source = SURFACE_DEPTH_IN.get(calibration or "", OTHER_SURFACE_DEPTH_IN)
        return DepthLimed(depth, source)
    low, high = TILLED_DEPTHS_IN
    if till_depth_in is None or not low <= till_depth_in <= high:
        raise ValueError(f"a till depth of {till_depth_in} inches is not {low:g} to {high:g} inches")
    return DepthLimed(till_depth_in)


def target_on_soil(target_ph: float, *, is_light: bool, is_default: bool) -> tuple[float, tuple[Finding, ...]]:
    """The target for the soil: on light soil a default one is held at 6.0, a chosen one above 6.5 is warned of."""
    if not is_light:
        return target_ph, ()
    if is_default:
        return min(target_ph, LIGHT_SOIL_TARGET), ()
    if target_ph > LIGHT_SOIL_LIMIT:
        return target_ph, (check("sand_target_high", source="practice_light_soil", target_ph=target_ph),)
    return target_ph, ()


@dataclass(frozen=True, slots=True)
class LeadTime:
    """How lime and sowing fit: the day by which lime is wanted, months there will be, and what to know."""

    spread_by: dt.date
    months: float
    findings: tuple[Finding, ...] = ()


def lead_time(planting_on: dt.date, *, spread_on: dt.date, alfalfa: bool = False) -> LeadTime:
    """Lime is wanted 6 months before sowing (Illinois, Missouri), 4 before alfalfa (Nebraska), and is at its full
    effect after 9 (Ohio). Lime after sowing is for the next crop.
    """
    wanted = MONTHS_BEFORE_ALFALFA if alfalfa else MONTHS_BEFORE_SOWING
    source = "lead_nebraska" if alfalfa else "lead_illinois_missouri"
    by = add_months(planting_on, -wanted)
    months = (planting_on - spread_on).days / (365.25 / 12)
    if spread_on <= by:
        if spread_on <= add_months(planting_on, -MONTHS_TO_FULL_EFFECT):
            return LeadTime(by, months)
        return LeadTime(by, months, (note("lime_before_full_effect", source="lead_ohio", months=months,
                                          full_months=MONTHS_TO_FULL_EFFECT),))  # fmt: skip
    late = spread_on > add_months(planting_on, -MONTHS_AT_LEAST)
    make, code = (check, "lime_late_for_sowing") if late else (note, "lime_short_lead")
    return LeadTime(by, months, (make(code, source=source, months=max(months, 0.0), wanted_months=wanted,
                                      spread_by=by.isoformat()),))  # fmt: skip
