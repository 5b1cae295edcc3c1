"""What a season plan answers: choices, purchases, what each plot reaches, what stays undone, and how sure it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass

from agronomy.findings import Finding, Hazard
from agronomy.season_plan.facts import PackageKind


@dataclass(frozen=True, slots=True)
class Choice:
    """One material on one plot in one dressing. `loads` is hopper loads (None without a hopper), `acidity` the
    CaCO3 its nitrogen will use up, `shares_with` the other plots on the same truckloads."""

    plot: str
    offer: str
    kind: str
    dressing: str
    site: str | None
    spreader: str | None
    lb: float
    lb_per_acre: float
    effective_lb_per_acre: float
    n_lb_per_acre: float
    p2o5_lb_per_acre: float
    k2o_lb_per_acre: float
    acidity_lb_caco3_per_acre: float
    loads: int | None
    hours: float
    months: tuple[int, ...]
    shares_with: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Purchase:
    """What to order of an offer for one place: whole packages, less what is on hand. `left_lb` stays over and
    `left_dollars` is what it cost; `tipped_in` names the dressing in which the first truck comes."""

    offer: str
    site: str | None
    dressing: str | None
    package: PackageKind
    packages: int
    lb: float
    used_lb: float
    from_stock_lb: float
    left_lb: float
    dollars: float
    left_dollars: float
    plots: tuple[str, ...]
    tipped_in: str | None


@dataclass(frozen=True, slots=True)
class PlotOutcome:
    """What a plot gets. Shares are 0 to 1 of what is owed or needed (None where nothing is); `gain` and `worth`
    are acre-points; `reason` is the one sentence that says why."""

    plot: str
    lime_share: float | None
    effective_lb_per_acre: float
    still_owed_effective_lb_per_acre: float
    n_share: float | None
    p2o5_share: float | None
    k2o_share: float | None
    gain: float
    worth: float
    dollars: float
    hours: float
    below_floor: bool
    reason: Finding


@dataclass(frozen=True, slots=True)
class Undone:
    """Lime that stays owed, why, and what it would take on top of the plan (None where money cannot do it)."""

    plot: str
    effective_lb_per_acre: float
    cause: str
    dollars_more: float | None
    hours_more: float | None


@dataclass(frozen=True, slots=True)
class UnmetWish:
    """A wish that cannot be met; the finding says why, with the figures."""

    plot: str
    offer: str | None
    reason: Finding


@dataclass(frozen=True, slots=True)
class Costs:
    """Dollars of a plan. `total` is all four."""

    material: float
    delivery: float
    spreading: float
    spent_anyway: float

    @property
    def total(self) -> float:
        return self.material + self.delivery + self.spreading + self.spent_anyway


@dataclass(frozen=True, slots=True)
class HandPlan:
    """The season planned by a hand method (`worst_plot_first`, `same_share`), measured like the plan.
    `keeps_wishes` is False when it cannot; then it is shown but was no start."""

    method: str
    gain: float
    score: float
    dollars: float
    hours: float
    plots_limed: int
    lime_share_by_plot: Mapping[str, float]
    keeps_wishes: bool


@dataclass(frozen=True)
class SeasonPlan:
    """The answer. `gain` of `full_gain` acre-points; `bound` is the proven most any plan could score and
    `gap_percent` how far this one may be below it (None when nothing was proven); `status` is `optimal` (within
    the gap asked for), `stopped`, `time` or `by_hand`."""

    choices: tuple[Choice, ...]
    purchases: tuple[Purchase, ...]
    plots: tuple[PlotOutcome, ...]
    undone: tuple[Undone, ...]
    unmet: tuple[UnmetWish, ...]
    costs: Costs
    hours: float
    fetching_hours: float
    hours_by_dressing: Mapping[str, float]
    gain: float
    full_gain: float
    score: float
    bound: float | None
    gap_percent: float | None
    status: str
    seconds: float
    hand_plans: tuple[HandPlan, ...]
    findings: tuple[Finding, ...]
    hazards: tuple[Hazard, ...]


@dataclass(frozen=True, slots=True)
class NextDollars:
    """Gain of `dollars` more budget: between `low` and `high` acre-points for certain. `shown` is False when
    that range is wider than the gain itself, and then the figure must not be shown."""

    dollars: float
    gain: float
    low: float
    high: float
    shown: bool


@dataclass(frozen=True)
class LeastCost:
    """Answer to "what does it cost at least": `dollars` of the plan found (spent anyway included), proven to be
    no less than `at_least_dollars`; `hours` it takes; `left` the plots for which no money is enough."""

    dollars: float
    at_least_dollars: float
    hours: float
    plan: SeasonPlan
    left: tuple[UnmetWish, ...]


def as_data(value: object) -> object:
    """Any result as plain lists, dicts, numbers and strings, fit for JSON; frozen sets are sorted."""
    if is_dataclass(value) and not isinstance(value, type):
        data = {item.name: as_data(getattr(value, item.name)) for item in fields(value)}
        if isinstance(value, Costs):
            data["total"] = value.total
        return data
    if isinstance(value, Mapping):
        return {str(key): as_data(item) for key, item in value.items()}
    if isinstance(value, frozenset | set):
        return sorted(as_data(item) for item in value)  # type: ignore[type-var]
    if isinstance(value, tuple | list):
        return [as_data(item) for item in value]
    return value
