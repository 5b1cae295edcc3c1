"""The question a season plan answers: where, when, under which wishes and within which limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from agronomy.season_plan.facts import MONTHS, PlanOffer, PlanPlot, PlanSpreader, between, check_months

LEAST_MONTHS_BETWEEN_DRESSINGS = 6
FIRST_HALF_WORTH = 2 / 3


@dataclass(frozen=True, slots=True)
class DumpSite:
    """A place where a truck can tip; `reach_ft` names the plots that share its pile and the way to each."""

    key: str
    reach_ft: Mapping[str, float]
    truck_months: frozenset[int] = MONTHS

    def __post_init__(self) -> None:
        check_months(f"truck months of site {self.key}", self.truck_months)
        for feet in self.reach_ft.values():
            between("reach_ft", feet, 0, 500000)


@dataclass(frozen=True, slots=True)
class PlanDressing:
    """A round of spreading in the season: `months_after` the first one, in `months` of the calendar."""

    key: str
    months: frozenset[int] = MONTHS
    months_after: int = 0
    hours: float | None = None

    def __post_init__(self) -> None:
        check_months(f"months of dressing {self.key}", self.months)
        between("months_after", self.months_after, 0, 24)
        if self.hours is not None:
            between("hours", self.hours, 0, 100000)


@dataclass(frozen=True, slots=True)
class Must:
    """This plot is to get at least `share` of what it is owed and its dressing limits allow (0 to 1)."""

    plot: str
    share: float = 1.0
    offer: str | None = None

    def __post_init__(self) -> None:
        between("share", self.share, 0.01, 1)


@dataclass(frozen=True, slots=True)
class NotMaterial:
    """This offer is not to be used, on one plot or (plot None) anywhere."""

    offer: str
    plot: str | None = None


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the manager asks for. `allow_caustic` names the burnt and hydrated offers that may be used."""

    must: tuple[Must, ...] = ()
    skip: frozenset[str] = frozenset()
    not_material: tuple[NotMaterial, ...] = ()
    prefer_bulk: bool = False
    allow_caustic: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class SpentAnyway:
    """Money that goes whatever is spread: lab fees, seed, a rented machine."""

    what: str
    dollars: float

    def __post_init__(self) -> None:
        between("dollars", self.dollars, 0, 10_000_000)


@dataclass(frozen=True)
class Season:
    """One question: what goes where. Limits of None are no limits. Keys must be unique and known."""

    plots: tuple[PlanPlot, ...]
    offers: tuple[PlanOffer, ...]
    spreaders: tuple[PlanSpreader, ...] = ()
    sites: tuple[DumpSite, ...] = ()
    dressings: tuple[PlanDressing, ...] = (PlanDressing("1"),)
    budget_dollars: float | None = None
    hours: float | None = None
    spent_anyway: tuple[SpentAnyway, ...] = ()
    wishes: Wishes = Wishes()
    first_half_worth: float = FIRST_HALF_WORTH
    fertilizers_per_plot: int = 3

    def __post_init__(self) -> None:
        for name in ("plots", "offers", "spreaders", "sites", "dressings"):
            keys = [item.key for item in getattr(self, name)]
            if len(set(keys)) != len(keys):
                raise ValueError(f"{name}: keys must be unique")
        between("first_half_worth", self.first_half_worth, 0.5, 1)
        between("fertilizers_per_plot", self.fertilizers_per_plot, 0, 10)
        between("number of dressings", len(self.dressings), 1, 3)
        for limit in (self.budget_dollars, self.hours):
            if limit is not None:
                between("budget or hours", limit, 0, 100_000_000)
        self._check_dressings()
        self._check_names()

    def _check_dressings(self) -> None:
        after = [dressing.months_after for dressing in self.dressings]
        if any(b - a < LEAST_MONTHS_BETWEEN_DRESSINGS for a, b in pairwise(after)):
            raise ValueError(f"dressings start {after} months after the first; allowed 6 or more apart, in order")

    def _check_names(self) -> None:
        plots, offers = set(self.plot_by_key), set(self.offer_by_key)
        named: list[tuple[str | None, str | None]] = [(must.plot, must.offer) for must in self.wishes.must]
        named += [(wish.plot, wish.offer) for wish in self.wishes.not_material]
        named += [(plot, None) for plot in self.wishes.skip]
        named += [(plot, None) for site in self.sites for plot in site.reach_ft]
        for plot, offer in named:
            if (plot is not None and plot not in plots) or (offer is not None and offer not in offers):
                raise ValueError(f"unknown plot or offer: {plot}, {offer}")

    @cached_property
    def plot_by_key(self) -> Mapping[str, PlanPlot]:
        return {plot.key: plot for plot in self.plots}

    @cached_property
    def offer_by_key(self) -> Mapping[str, PlanOffer]:
        return {offer.key: offer for offer in self.offers}

    @property
    def spent_anyway_dollars(self) -> float:
        return sum(cost.dollars for cost in self.spent_anyway)
