"""When nitrogen is spread: the dressings of a season, and what weather and ground do to urea."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from agronomy.crops import Crop, CropDemand
from agronomy.findings import Finding, check, note, stop

SINGLE_DOSE_LB_PER_ACRE = 60.0
"""Most N in one dressing on established cool-season stands (60 to 75, `clemson_cool_season_dose`)."""


@dataclass(frozen=True, slots=True)
class Window:
    """A span of time for one dressing: days after planting, or month and day of a stand that is established.

    `code` names the stage of the crop; `share` is its part of the season's N.
    """

    code: str
    share: float
    days: tuple[int, int] | None
    months: tuple[tuple[int, int], tuple[int, int]] | None
    source: str


@dataclass(frozen=True, slots=True)
class NitrogenDressing:
    """One dressing: N in lb/acre, the stage it belongs to (`code`) and the days it may be spread on.

    Without a planting date `first_day` and `last_day` are None and the days after planting say it.
    """

    lb_per_acre: float
    code: str
    days_after_planting: tuple[int, int] | None
    first_day: dt.date | None
    last_day: dt.date | None
    source: str


@dataclass(frozen=True, slots=True)
class NitrogenPlan:
    """The dressings of a season in their order."""

    dressings: tuple[NitrogenDressing, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def lb_per_acre(self) -> float:
        return sum(dressing.lb_per_acre for dressing in self.dressings)


_MS, _PRACTICE = "mississippi_food_plots", "n_timing_practice"
_AFTER_EMERGENCE = Window("after_emergence", 0.5, (10, 21), None, _MS)
_MID_SEASON = Window("mid_season", 0.5, (40, 66), None, _MS)
_GREEN_UP = Window("green_up", 0.5, None, ((3, 1), (3, 30)), "tennessee_alfalfa")
_AFTER_CUT = Window("after_first_cut", 0.5, None, ((5, 15), (6, 15)), "tennessee_alfalfa")
WINDOWS: Mapping[str, tuple[Window, ...]] = MappingProxyType(
    {
        "grain": (_AFTER_EMERGENCE, _MID_SEASON),
        "summer_annual": (_AFTER_EMERGENCE, _MID_SEASON),
        "brassica": (
            Window("after_emergence", 0.5, (10, 21), None, _MS),
            Window("second_growth", 0.5, (60, 80), None, "penn_state_brassica_n"),
        ),
        "canola": (
            Window("after_emergence", 1 / 3, (10, 21), None, "noble_canola_n"),
            Window("green_up", 2 / 3, (150, 200), None, "noble_canola_n"),
        ),
        "corn": (
            Window("at_planting", 1 / 3, (0, 0), None, _PRACTICE),
            Window("knee_high", 2 / 3, (30, 45), None, _PRACTICE),
        ),
        "before_planting": (Window("before_planting", 1.0, (-7, 0), None, "kentucky_sunflower"),),
        "grass": (_GREEN_UP, _AFTER_CUT),
        "grass_new": (Window("after_emergence", 1.0, (14, 30), None, _MS),),
    }
)
_ONE_DOSE_UP_TO = {"grain": 30.0, "summer_annual": 40.0, "brassica": 80.0, "corn": 30.0, "grass": 60.0, "canola": 25.0}


def split_nitrogen(
    demand: CropDemand, lb_per_acre: float, *, planted_on: dt.date | None = None, established: bool = False,
    year: int | None = None,
) -> NitrogenPlan:  # fmt: skip
    """The season's N (0 to 300 lb/acre) as dressings, none over what the crop takes at once.

    `planted_on` is the planned or actual planting date; an established stand goes by the months of `year` (None leaves
    the days open). The crop of the largest share that is no legume sets the times.
    """
    if not (math.isfinite(lb_per_acre) and 0 <= lb_per_acre <= 300):
        raise ValueError(f"N is {lb_per_acre} lb/acre, allowed 0 to 300")
    if lb_per_acre == 0:
        return NitrogenPlan(())
    crop = _timed_by(demand)
    timing = (crop.n_timing if crop else "") or "grain"
    if timing == "grass" and not established:
        timing = "grass_new"
    most = crop.n_single_dose_lb_per_acre if crop else SINGLE_DOSE_LB_PER_ACRE
    windows = _windows(timing, lb_per_acre)
    dressings = tuple(
        _dressing(window, part, planted_on, year)
        for window in windows
        for part in _parts(lb_per_acre * window.share, most)
    )
    return NitrogenPlan(dressings, _about(demand, crop, dressings, windows, most))


def _timed_by(demand: CropDemand) -> Crop | None:
    eaters = [crop for crop, _ in demand.components if not crop.legume and crop.n_timing]
    return eaters[0] if eaters else None


def _windows(timing: str, lb_per_acre: float) -> tuple[Window, ...]:
    windows = WINDOWS[timing]
    if lb_per_acre <= _ONE_DOSE_UP_TO.get(timing, 0.0):
        first = windows[0] if timing != "corn" else windows[-1]
        return (Window(first.code, 1.0, first.days, first.months, first.source),)
    return windows


def _parts(lb: float, most: float) -> tuple[float, ...]:
    count = max(1, math.ceil(lb / most - 1e-9))
    return (lb / count,) * count


def _dressing(window: Window, lb: float, planted_on: dt.date | None, year: int | None) -> NitrogenDressing:
    first = last = None
    if window.days is not None and planted_on is not None:
        first, last = (planted_on + dt.timedelta(days=days) for days in window.days)
    elif window.months is not None and year is not None:
        first, last = (dt.date(year, month, day) for month, day in window.months)
    return NitrogenDressing(lb, window.code, window.days, first, last, window.source)


def _about(
    demand: CropDemand, crop: Crop | None, dressings: tuple[NitrogenDressing, ...], windows: tuple[Window, ...],
    most: float,
) -> tuple[Finding, ...]:  # fmt: skip
    found: list[Finding] = []
    if len(dressings) > len(windows) and crop is not None:
        key = crop.source_of("n_single_dose_lb_per_acre")
        found.append(note("nitrogen_split_for_dose", source=key, crop=crop.name, most=most, dressings=len(dressings)))
    if demand.legume_share_percent > 0 and any(dressing.code == "after_emergence" for dressing in dressings):
        found.append(note("nitrogen_wait_true_leaf", source="texas_clover_guide"))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class SpreadingConditions:
    """Ground and weather on the day of spreading; None where it is not known.

    `rain_expected_in` is what one rain is to bring within two days, `soil_temperature_f` of the surface,
    `limed_days_ago` how long ago lime was spread there, `worked_in_days` after how many days it is worked in.
    """

    frozen: bool = False
    snow: bool = False
    soaked: bool = False
    damp_surface: bool = False
    heavy_rain_forecast: bool = False
    rain_expected_in: float | None = None
    soil_temperature_f: float | None = None
    wind_mph: float | None = None
    limed_days_ago: int | None = None
    worked_in_days: float | None = None
    inhibitor: bool = False
    near_water: bool = False


ENOUGH_RAIN_IN = 0.5
WARM_SOIL_F = 60.0
HIGHEST_WIND_MPH = 5.0
LIME_APART_DAYS = 14
WORKED_IN_DAYS: Mapping[bool, float] = {True: 3.0, False: 5.0}
"""Days within which urea is worked in, by whether it is warm."""


def spreading_advice(conditions: SpreadingConditions, *, urea: bool) -> tuple[Finding, ...]:
    """What speaks against spreading now; `urea` for urea and UAN, which lose ammonia from the surface.

    A stop is for ground that nothing is spread on: frozen, under snow, or soaked.
    """
    found: list[Finding] = []
    if conditions.frozen or conditions.snow:
        found.append(stop("no_spreading_on_frozen_ground", source="montana_urea" if urea else "fertilizer_handling",
                          snow=conditions.snow))  # fmt: skip
    if conditions.soaked:
        found.append(stop("no_spreading_on_soaked_ground", source="fertilizer_handling"))
    if conditions.heavy_rain_forecast:
        found.append(check("hold_for_heavy_rain", source="fertilizer_handling", near_water=conditions.near_water))
    if conditions.wind_mph is not None and conditions.wind_mph >= HIGHEST_WIND_MPH:
        found.append(check("hold_for_wind", source="fertilizer_handling", wind_mph=conditions.wind_mph,
                           most=HIGHEST_WIND_MPH))  # fmt: skip
    if urea:
        found.extend(_urea_advice(conditions))
    return tuple(found)


def _urea_advice(conditions: SpreadingConditions) -> list[Finding]:
    found: list[Finding] = []
    if conditions.limed_days_ago is not None and conditions.limed_days_ago < LIME_APART_DAYS:
        found.append(check("urea_after_lime", source="urea_lime_apart", days=conditions.limed_days_ago,
                           apart=LIME_APART_DAYS))  # fmt: skip
    warm = conditions.soil_temperature_f is None or conditions.soil_temperature_f >= WARM_SOIL_F
    within = WORKED_IN_DAYS[warm]
    if conditions.worked_in_days is not None and conditions.worked_in_days <= within:
        return found
    if conditions.rain_expected_in is not None and conditions.rain_expected_in >= ENOUGH_RAIN_IN:
        return found
    if conditions.inhibitor:
        found.append(note("urea_with_inhibitor", source="montana_urea", least=60, most=65, weeks=2))
    elif conditions.damp_surface:
        found.append(check("urea_on_damp_soil", source="montana_urea", loss_percent=22, worst_percent=30,
                           rain_in=ENOUGH_RAIN_IN))  # fmt: skip
    else:
        found.append(note("urea_needs_rain", source="montana_urea", least=8, most=15, rain_in=ENOUGH_RAIN_IN,
                          days=within))  # fmt: skip
    return found
