"""Nitrogen: how much a crop or mix gets in a season, and what a legume leaves behind.

When it is spread stands in `nitrogen_timing`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from agronomy.crops import Crop, CropDemand
from agronomy.findings import Finding, Step, check, note, stop

LEGUME_LIMIT_LB_PER_ACRE = 25.0
"""Most N on an inoculated legume stand (source `minnesota_legume_n`)."""
LEGUME_GRASS_LIMIT_LB_PER_ACRE = 30.0
"""Most N on a stand that is to keep its legume (source `missouri_legume_grass_n`)."""
MIX_LEGUME_PERCENT = 25.0
"""From this share of legume on a stand counts as legume-grass (source `missouri_legume_grass_n`)."""
PURE_LEGUME_PERCENT = 90.0
"""From this share on it is kept as a pure legume stand (source `n_house_rules`)."""
SMALLEST_DRESSING_LB_PER_ACRE = 10.0
"""Less N than this is not worth a pass on a mix (source `n_house_rules`)."""
GRASS_N_LB_PER_TON, GRASS_N_MOST_LB = 30.0, 150.0
"""Minnesota's 60, 90, 120 and 150 lb for 2, 3, 4 and 5 tons or more."""

RULES = "n_house_rules"


@dataclass(frozen=True, slots=True)
class PublishedNitrogen:
    """What the calibration gone by says of N: a range, or a rate by crop key, lb/acre."""

    title: str
    source: str
    low: float | None = None
    high: float | None = None
    by_crop: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SeasonNitrogen:
    """N for a season, lb/acre; None where none can be given. `limit_lb_per_acre` protects the legumes of the stand,
    None without them."""

    lb_per_acre: float | None
    source: str
    limit_lb_per_acre: float | None = None
    limit_source: str = ""
    legume_share_percent: float = 0.0
    findings: tuple[Finding, ...] = ()
    working: tuple[Step, ...] = ()


def nitrogen_limit(legume_share_percent: float) -> tuple[float | None, str]:
    """The most N in lb/acre that a stand with this share of legume gets (0 to 100), with its source."""
    if legume_share_percent >= PURE_LEGUME_PERCENT:
        return LEGUME_LIMIT_LB_PER_ACRE, "minnesota_legume_n"
    if legume_share_percent >= MIX_LEGUME_PERCENT:
        return LEGUME_GRASS_LIMIT_LB_PER_ACRE, "missouri_legume_grass_n"
    return None, ""


def season_nitrogen(
    demand: CropDemand, *, legume_share_percent: float | None = None, inoculated: bool = False,
    established: bool = False, yield_goal_ton: float | None = None, chosen_lb_per_acre: float | None = None,
    published: PublishedNitrogen | None = None,
) -> SeasonNitrogen:  # fmt: skip
    """N of a season by crop and share of legume.

    `legume_share_percent` (0 to 100) is of the stand, None for the share of the seed; `chosen_lb_per_acre` (0 to 300)
    is the manager's own figure, which the limits on legumes still hold.
    """
    if not demand.components:
        return SeasonNitrogen(None, RULES, findings=(stop("nitrogen_needs_crop"),))
    share = demand.legume_share_percent if legume_share_percent is None else legume_share_percent
    if not 0 <= share <= 100:
        raise ValueError(f"the legume share is {share} percent, allowed 0 to 100")
    limit, limit_source = nitrogen_limit(share)
    findings = _about_inoculation(demand, share, inoculated=inoculated or established)
    if chosen_lb_per_acre is not None:
        rate = _chosen(chosen_lb_per_acre, limit, limit_source)
    elif share >= PURE_LEGUME_PERCENT:
        rate = SeasonNitrogen(0.0, "minnesota_legume_n", working=(
            Step("N on a legume stand", f"{share:.0f} % legume", 0.0, "lb/acre", "minnesota_legume_n"),
        ))  # fmt: skip
    else:
        rate = _by_share(demand, share, yield_goal_ton, published)
    return SeasonNitrogen(
        rate.lb_per_acre, rate.source, limit, limit_source, share, (*findings, *rate.findings), rate.working
    )


def _about_inoculation(demand: CropDemand, share: float, *, inoculated: bool) -> tuple[Finding, ...]:
    if inoculated or share < MIX_LEGUME_PERCENT:
        return ()
    names = ", ".join(crop.name for crop, _ in demand.components if crop.legume)
    return (check("legume_not_inoculated", source="minnesota_legume_n", crops=names),) if names else ()


def _chosen(lb: float, limit: float | None, limit_source: str) -> SeasonNitrogen:
    if not 0 <= lb <= 300:
        raise ValueError(f"N chosen is {lb} lb/acre, allowed 0 to 300")
    step = Step("N chosen by the manager", "", lb, "lb/acre", "manager_own_figure")
    if limit is None or lb <= limit:
        return SeasonNitrogen(lb, "manager_own_figure", working=(step,))
    held = Step("Held to the limit on legumes", f"least of {lb:g} and {limit:g}", limit, "lb/acre", limit_source)
    found = check("nitrogen_over_legume_limit", source=limit_source, chosen=lb, limit=limit)
    return SeasonNitrogen(limit, limit_source, findings=(found,), working=(step, held))


def _by_share(
    demand: CropDemand, share: float, yield_goal_ton: float | None, published: PublishedNitrogen | None
) -> SeasonNitrogen:  # fmt: skip
    eaters = [(crop, part) for crop, part in demand.components if not crop.legume and crop.n_rule != "by_tree"]
    if not eaters:
        trees = any(crop.n_rule == "by_tree" for crop, _ in demand.components)
        if trees:
            return SeasonNitrogen(None, "n_practice", findings=(stop("nitrogen_by_tree"),))
        step = Step("N on a thin legume stand", f"{share:.0f} % legume", 0.0, "lb/acre", RULES)
        return SeasonNitrogen(0.0, RULES, working=(step,))
    total = sum(part for _, part in eaters)
    rates = [(crop, part, *_rate_of(crop, yield_goal_ton, published)) for crop, part in eaters]
    steps = tuple(Step(f"N for {crop.name}", "", lb, "lb/acre", key) for crop, _, lb, key in rates)
    mean = sum(lb * part for _, part, lb, _ in rates) / total
    source = rates[0][3]
    if share > 0:
        source = RULES
        shared = mean * (1 - share / 100)
        steps += (Step("By the share of legume", f"{mean:.4g} x (1 - {share:.0f} %)", shared, "lb/acre", RULES),)
        mean = shared
    if share >= MIX_LEGUME_PERCENT:
        mean, steps = _held_for_legume(mean, steps)
    return _in_range(mean, source, steps, published)


def _rate_of(crop: Crop, yield_goal_ton: float | None, published: PublishedNitrogen | None) -> tuple[float, str]:
    if published is not None and crop.key in published.by_crop:
        return published.by_crop[crop.key], published.source
    if crop.n_rule == "grass_yield" and yield_goal_ton is not None:
        return min(GRASS_N_MOST_LB, GRASS_N_LB_PER_TON * yield_goal_ton), "minnesota_grass_n"
    return crop.n_lb_per_acre, crop.source_of("n_lb_per_acre")


def _held_for_legume(lb: float, steps: tuple[Step, ...]) -> tuple[float, tuple[Step, ...]]:
    """At most 30 lb where the legume is to be kept, and nothing under 10 lb."""
    if lb > LEGUME_GRASS_LIMIT_LB_PER_ACRE:
        lb = LEGUME_GRASS_LIMIT_LB_PER_ACRE
        return lb, (*steps, Step("Held to keep the legume", "", lb, "lb/acre", "missouri_legume_grass_n"))
    if 0 < lb < SMALLEST_DRESSING_LB_PER_ACRE:
        return 0.0, (*steps, Step("Too little to be worth a pass", f"{lb:.4g} lb/acre", 0.0, "lb/acre", RULES))
    return lb, steps


def _in_range(
    lb: float, source: str, steps: tuple[Step, ...], published: PublishedNitrogen | None
) -> SeasonNitrogen:  # fmt: skip
    """Inside the range of the publication that is gone by, if it names one."""
    if published is None or published.high is None or lb <= published.high:
        return SeasonNitrogen(lb, source, working=steps)
    step = Step(f"Held to the range of {published.title}", "", published.high, "lb/acre", published.source)
    found = note("nitrogen_held_to_range", source=published.source, calibration=published.title,
                 usual=lb, most=published.high)  # fmt: skip
    return SeasonNitrogen(published.high, published.source, findings=(found,), working=(*steps, step))


@dataclass(frozen=True, slots=True)
class LegumeCredit:
    """N in lb/acre that a grown legume leaves to the next planting: `low` is what is credited, `high` what is
    published at best."""

    low: float
    high: float
    source: str
    working: tuple[Step, ...] = ()


def legume_credit(
    previous: CropDemand, *, legume_share_percent: float | None = None, plantings_since: int = 1
) -> LegumeCredit:  # fmt: skip
    """What the previous planting's legumes leave, by their share of the stand (0 to 100 percent).

    `plantings_since` is 1 for the next planting, 2 for the one after it, which gets half after alfalfa; none later.
    A browsed stand is credited at the low end. Raises `ValueError` for a count under 1.
    """
    if plantings_since < 1:
        raise ValueError(f"plantings_since is {plantings_since}, allowed 1 and more")
    legumes = [(crop, part) for crop, part in previous.components if crop.legume]
    share = previous.legume_share_percent if legume_share_percent is None else legume_share_percent
    if not 0 <= share <= 100:
        raise ValueError(f"the legume share is {share} percent, allowed 0 to 100")
    kept = [(crop, part) for crop, part in legumes if plantings_since == 1 or _lasts(crop, plantings_since)]
    if not kept:
        return LegumeCredit(0.0, 0.0, "credit_practice")
    total = sum(part for _, part in legumes)
    factor = share / 100 * (0.5 if plantings_since == 2 else 1.0)
    low = sum(crop.n_credit_low_lb_per_acre * part for crop, part in kept) / total * factor
    high = sum(crop.n_credit_high_lb_per_acre * part for crop, part in kept) / total * factor
    source = kept[0][0].source_of("n_credit_low_lb_per_acre")
    names = ", ".join(crop.name for crop, _ in kept)
    step = Step(f"N left by {names}", f"{share:.0f} % of the stand, {low:.0f} to {high:.0f} lb/acre", low, "lb/acre",
                source)  # fmt: skip
    return LegumeCredit(low, high, source, (step,))


def _lasts(crop: Crop, plantings_since: int) -> bool:
    return crop.key == "alfalfa" and plantings_since == 2
