"""Which publication a property goes by for a crop group, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

from agronomy.crops import GROUP_NAMES, Crop, CropDemand
from agronomy.findings import Finding, check, note
from agronomy.nutrients.calibrations import Calibration, calibration, calibrations

FALLBACK = "north_carolina_food_plot"
"""The one complete published rule that was made for food plots."""
Reason = Literal["chosen_for_group", "chosen", "state", "fallback"]


@dataclass(frozen=True, slots=True)
class CalibrationChoice:
    """The publication gone by (`key`) and why. `fallback` is used for crops it has no table for.

    `per_nutrient` sets another publication for single nutrients.
    """

    key: str
    reason: Reason = "chosen"
    fallback: str = FALLBACK
    per_nutrient: Mapping[str, str] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


def choose_calibration(
    demand: CropDemand, *, state: str = "", chosen: str = "", by_group: Mapping[str, str] = MappingProxyType({})
) -> CalibrationChoice:  # fmt: skip
    """The publication for a planting: the one chosen for its crop group, else for the property, else the state's.

    Without a table of the state for these crops it is North Carolina's rule for food plots, and a finding says so.
    Raises `ValueError` for an unknown calibration.
    """
    lead = demand.lead
    group = lead.group if lead else ""
    if by_group.get(group):
        return CalibrationChoice(calibration(by_group[group]).key, "chosen_for_group")
    if chosen:
        return CalibrationChoice(calibration(chosen).key, "chosen")
    return _by_state(state.upper(), lead)


def _by_state(state: str, lead: Crop | None) -> CalibrationChoice:
    group = GROUP_NAMES[lead.group] if lead else "ground without a crop"
    fallback = calibrations()[FALLBACK]
    for known in calibrations().values():
        if state in known.states and known.gives_rates and known.crop_for(lead):
            found = note("calibration_of_state", source=known.key, state=state, calibration=known.title, group=group)
            return CalibrationChoice(known.key, "state", findings=(found,))
    if not state:
        found = note("calibration_default", source=FALLBACK, calibration=fallback.title)
    else:
        found = check("calibration_not_of_state", source=FALLBACK, state=state, calibration=fallback.title, group=group)
    return CalibrationChoice(FALLBACK, "fallback", findings=(found,))


@lru_cache(maxsize=256)
def covering(key: str, fallback: str, crop: Crop | None) -> tuple[Calibration, str, bool]:
    """The calibration that has a table for a crop, its name for the crop, and whether it is the fallback."""
    first = calibration(key)
    named = first.crop_for(crop)
    if named is not None and first.gives_rates:
        return first, named, False
    second = calibration(fallback)
    named = second.crop_for(crop)
    if named is None or not second.gives_rates:
        raise ValueError(f"the fallback {fallback} has no table for {crop.name if crop else 'ground without a crop'}")
    return second, named, True


@lru_cache(maxsize=64)
def calibrations_for(group_crop: Crop | None) -> tuple[str, ...]:
    """Keys of every calibration that gives rates for a crop, for a list to choose from."""
    return tuple(key for key, known in calibrations().items() if known.gives_rates and known.crop_for(group_crop))
