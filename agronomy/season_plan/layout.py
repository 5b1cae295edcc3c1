"""Lay out everything that could be done: each material on each plot in each dressing, and where it comes from.

An option is one material on one plot in one dressing, from one pile, by one machine, between a least and a most
weight. A pool is what is bought together: all bags of an offer, or the truckloads tipped at one place.
What is not possible leaves a barrier, so that the plan can say why.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from agronomy.season_plan.facts import (
    CAUSTIC_FORMS,
    NUTRIENTS,
    OfferKind,
    PlanOffer,
    PlanPlot,
)
from agronomy.season_plan.machines import Pass, best_pass
from agronomy.season_plan.question import DumpSite, PlanDressing, Season

EDGE = 1e-6  # relative slack of floats: a millionth of a package, a plot's cap or a rate
LEAST_WEIGHED_LB = 0.1  # less than this on a plot is nothing to weigh out
LEAST_EFFECTIVE_SHARE = 0.01  # a material under 1 percent has no liming value
BAG_PENALTY = 0.05  # of a plot's whole lime worth, for each bagged dressing when bulk is preferred


@dataclass(frozen=True, slots=True)
class Pool:
    """What is bought and drawn down together. Weights in lb; `most_packages` 0 means only what is on hand."""

    offer: str
    site: str | None
    dressing: int | None
    stock_lb: float
    holds_lb: float
    least_lb: float
    most_packages: int


@dataclass(frozen=True, slots=True)
class Option:
    """One material on one plot in one dressing. Weights are for the whole plot, in lb as spread."""

    index: int
    plot: str
    offer: str
    kind: OfferKind
    dressing: int
    site: str | None
    pool: int
    least_lb: float
    most_lb: float
    effective_share: float
    nutrient_share: tuple[float, float, float]
    work: Pass
    dollars_fixed: float
    dollars_per_lb: float
    penalty: float
    months: frozenset[int]


@dataclass(frozen=True, slots=True)
class PlotCaps:
    """What a plot may take and what filling it is worth; pounds for the whole plot, worth in acre-points."""

    owed_lb: float
    lime_worth: float
    need_lb: tuple[float, float, float]
    most_lb: tuple[float, float, float]
    need_worth: tuple[float, float, float]


@dataclass(frozen=True)
class Layout:
    """The season with all its options. Read-only; every other module works on it."""

    season: Season
    options: tuple[Option, ...]
    pools: tuple[Pool, ...]
    caps: Mapping[str, PlotCaps]
    barriers: Mapping[tuple[str, str], str]

    @cached_property
    def by_plot(self) -> Mapping[str, tuple[Option, ...]]:
        """The options of each plot."""
        found: dict[str, list[Option]] = {plot.key: [] for plot in self.season.plots}
        for option in self.options:
            found[option.plot].append(option)
        return {key: tuple(options) for key, options in found.items()}

    @cached_property
    def lime_by_plot(self) -> Mapping[str, tuple[Option, ...]]:
        """The lime options of each plot."""
        return {key: tuple(o for o in options if o.kind == "lime") for key, options in self.by_plot.items()}

    @cached_property
    def full_worth(self) -> float:
        """Acre-points if every plot got all it is owed and needs, possible or not."""
        return sum(cap.lime_worth + sum(cap.need_worth) for cap in self.caps.values())

    @property
    def money_dollars(self) -> float | None:
        """The budget less what is spent anyway, at least 0; None without a budget."""
        budget = self.season.budget_dollars
        return None if budget is None else max(0.0, budget - self.season.spent_anyway_dollars)


def _caps(plot: PlanPlot) -> PlotCaps:
    needs = {need.nutrient: need for need in plot.needs}
    amounts = tuple(needs[n].need_lb_per_acre * plot.acres if n in needs else 0.0 for n in NUTRIENTS)
    worths = tuple(
        plot.acres * plot.care * needs[n].worth_ph_points if n in needs and needs[n].need_lb_per_acre > 0 else 0.0
        for n in NUTRIENTS
    )
    limits = tuple(plot.nutrient_limit_lb_per_acre(n) * plot.acres for n in NUTRIENTS)
    owed = plot.owed_effective_lb_per_acre * plot.acres
    worth = plot.acres * plot.care * plot.ph_gap if owed > 0 else 0.0
    return PlotCaps(owed, worth, _three(amounts), _three(limits), _three(worths))


def _three(values: tuple[float, ...]) -> tuple[float, float, float]:
    n, p2o5, k2o = values
    return n, p2o5, k2o


def _refused(season: Season, plot: PlanPlot, offer: PlanOffer) -> str | None:
    """Why an offer is not even looked at on a plot, or None."""
    wishes = season.wishes
    if plot.key in wishes.skip:
        return "skipped"
    if any(no.offer == offer.key and no.plot in (None, plot.key) for no in wishes.not_material):
        return "not_wished"
    if offer.form in CAUSTIC_FORMS and offer.key not in wishes.allow_caustic:
        return "caustic_not_allowed"
    if offer.kind == "lime" and offer.effective_share(plot.key) < LEAST_EFFECTIVE_SHARE:
        return "no_liming_value"
    if offer.kind == "fertilizer" and not _helps(plot, offer):
        return "not_needed"
    if offer.price_dollars is None and not any(offer.on_hand_lb.values()):
        return "not_for_sale"
    return None


def _helps(plot: PlanPlot, offer: PlanOffer) -> bool:
    return any(offer.nutrient_share(n.nutrient) > 0 and n.need_lb_per_acre > 0 for n in plot.needs)


def _lime_band(plot: PlanPlot, offer: PlanOffer) -> tuple[float, float]:
    """Least and most lb/acre of a lime as spread, in one dressing."""
    share = offer.effective_share(plot.key)
    most_effective = plot.owed_effective_lb_per_acre
    if plot.largest_dressing_effective_lb_per_acre is not None:
        most_effective = min(most_effective, plot.largest_dressing_effective_lb_per_acre)
    most = min(most_effective / share, plot.most_material_lb_per_acre)
    return plot.smallest_dressing_effective_lb_per_acre / share, most


def _fertilizer_band(plot: PlanPlot, offer: PlanOffer) -> tuple[float, float]:
    """Least and most lb/acre of a fertilizer: no nutrient over its limit."""
    most = [
        plot.nutrient_limit_lb_per_acre(nutrient) / offer.nutrient_share(nutrient)
        for nutrient in NUTRIENTS
        if offer.nutrient_share(nutrient) > 0
    ]
    return 0.0, min(most, default=0.0)


class _Builder:
    """Collects options, pools and barriers plot by plot."""

    def __init__(self, season: Season) -> None:
        self.season = season
        self.sites = season.sites or _own_sites(season)
        self.options: list[Option] = []
        self.pool_keys: dict[tuple[str, str | None, int | None], int] = {}
        self.barriers: dict[tuple[str, str], str] = {}

    def consider(self, plot: PlanPlot, offer: PlanOffer) -> None:
        """Add every option of an offer on a plot, or the barrier."""
        barrier = _refused(self.season, plot, offer) or self._add(plot, offer)
        if barrier is not None:
            self.barriers[plot.key, offer.key] = barrier

    def _add(self, plot: PlanPlot, offer: PlanOffer) -> str | None:
        least, most = _lime_band(plot, offer) if offer.kind == "lime" else _fertilizer_band(plot, offer)
        least = max(least, offer.smallest_rate_lb_per_acre)
        if offer.largest_rate_lb_per_acre is not None:
            most = min(most, offer.largest_rate_lb_per_acre)
        if most * plot.acres < LEAST_WEIGHED_LB:
            return "rate_limits"
        if least > most * (1 + EDGE):
            return "below_smallest_dressing" if offer.kind == "lime" else "rate_limits"
        before = len(self.options)
        barriers: list[str | None] = []
        for dressing in range(len(self.season.dressings) if offer.kind == "lime" else 1):
            for site, feet, closed in self._piles(plot, offer, dressing):
                if closed is not None:
                    barriers.append(closed)
                    continue
                barriers.append(self._option(plot, offer, (dressing, site, feet), (min(least, most), most)))
        if len(self.options) > before:
            return None
        return next((barrier for barrier in barriers if barrier), "no_dump_site")

    def _piles(
        self, plot: PlanPlot, offer: PlanOffer, dressing: int
    ) -> Iterator[tuple[str | None, float, str | None]]:
        """(site, feet to the plot, why it is closed) of each place the material may come from."""
        if not offer.is_tipped:
            yield None, plot.haul_ft, None
            return
        for site in self.sites:
            if plot.key in site.reach_ft:
                yield site.key, site.reach_ft[plot.key], self._closed(site, offer, dressing)

    def _closed(self, site: DumpSite, offer: PlanOffer, dressing: int) -> str | None:
        """A pile can be used once a truck could have tipped it, or when it lies there and none can come at all."""
        rounds = self.season.dressings
        opens = [i for i, round_ in enumerate(rounds) if site.truck_months & round_.months]
        if offer.price_dollars is not None and any(i <= dressing for i in opens):
            return None
        only_stock = offer.on_hand_lb.get(site.key, 0.0) > 0 and (offer.price_dollars is None or not opens)
        return None if only_stock else "dump_site_closed"

    def _option(
        self,
        plot: PlanPlot,
        offer: PlanOffer,
        place: tuple[int, str | None, float],
        band: tuple[float, float],
    ) -> str | None:
        dressing, site, feet = place
        round_: PlanDressing = self.season.dressings[dressing]
        work = best_pass(self.season.spreaders, plot=plot, offer=offer, months=round_.months, feet=feet, band=band)
        if isinstance(work, str):
            return work
        least, most = max(band[0], work.smallest_lb_per_acre) * plot.acres, band[1] * plot.acres
        custom = offer.custom_dollars_per_acre * plot.acres if offer.basis == "spread" else 0.0
        bagged = offer.kind == "lime" and not offer.package.by_weight and self.season.wishes.prefer_bulk
        self.options.append(
            Option(
                index=len(self.options), plot=plot.key, offer=offer.key, kind=offer.kind, dressing=dressing,
                site=site, pool=self._pool(offer, site, dressing), least_lb=least, most_lb=most,
                effective_share=offer.effective_share(plot.key) if offer.kind == "lime" else 0.0,
                nutrient_share=_three(tuple(offer.nutrient_share(n) for n in NUTRIENTS)),
                work=work, dollars_fixed=custom + work.hours_fixed * work.dollars_per_hour,
                dollars_per_lb=work.hours_per_lb * work.dollars_per_hour,
                penalty=BAG_PENALTY * _caps(plot).lime_worth if bagged else 0.0, months=work.months,
            )
        )
        return None

    def _pool(self, offer: PlanOffer, site: str | None, dressing: int) -> int:
        key = (offer.key, site, dressing if offer.basis == "spread" else None)
        return self.pool_keys.setdefault(key, len(self.pool_keys))

    def pools(self) -> tuple[Pool, ...]:
        """The pools with their stock and the most packages that could be wanted of each."""
        wanted: dict[int, dict[str, float]] = {}
        for option in self.options:
            per_plot = wanted.setdefault(option.pool, {})
            cap = option.most_lb * (len(self.season.dressings) if option.kind == "lime" else 1)
            if option.kind == "lime":
                plot = self.season.plot_by_key[option.plot]
                cap = min(cap, plot.owed_effective_lb_per_acre * plot.acres / option.effective_share)
            per_plot[option.plot] = cap
        return tuple(
            self._sized(key, sum(wanted[number].values())) for key, number in self.pool_keys.items()
        )

    def _sized(self, key: tuple[str, str | None, int | None], wanted_lb: float) -> Pool:
        offer_key, site, dressing = key
        offer = self.season.offer_by_key[offer_key]
        stock = 0.0 if offer.basis == "spread" else offer.on_hand_lb.get(site or "", 0.0)
        package = offer.package
        short = max(0.0, wanted_lb - stock)
        holds = package.holds_lb if package.kind != "bulk" else max(short, package.least_lb, 1.0)
        count = -int(-short // holds)
        if count:
            count = max(count, package.smallest_order)
        if offer.price_dollars is None or (site is not None and not self._truck_comes(site)):
            count = 0
        return Pool(offer_key, site, dressing, stock, holds, package.least_lb, count)

    def _truck_comes(self, site_key: str) -> bool:
        site = next(site for site in self.sites if site.key == site_key)
        return any(site.truck_months & round_.months for round_ in self.season.dressings)


def _own_sites(season: Season) -> tuple[DumpSite, ...]:
    """Without a list of dump sites each plot that a lime truck reaches gets its own pile, shared with none."""
    reached = [plot for plot in season.plots if plot.months_reached("lime_truck")]
    return tuple(DumpSite(plot.key, {plot.key: 0.0}, plot.months_reached("lime_truck")) for plot in reached)


def lay_out(season: Season) -> Layout:
    """All options of a season, the pools they draw on and the barriers in the way of the rest."""
    builder = _Builder(season)
    places = {"", *(site.key for site in builder.sites)}
    for offer in season.offers:
        if not places >= set(offer.on_hand_lb):
            raise ValueError(f"offer {offer.key} lies at {sorted(set(offer.on_hand_lb) - places)}; no such dump site")
    for plot in season.plots:
        needs = any(need.need_lb_per_acre > 0 for need in plot.needs)
        for offer in season.offers:
            if plot.owed_effective_lb_per_acre > 0 if offer.kind == "lime" else needs:
                builder.consider(plot, offer)
    caps = {plot.key: _caps(plot) for plot in season.plots}
    return Layout(season, tuple(builder.options), builder.pools(), caps, builder.barriers)
