"""A purchase that several plots share, the hand ways beside it, and one grade held against a need."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agronomy.blend import BlendLimits, BlendPlot, FertilizerOffer, best, best_shared, by_hand, sizings
from tests.agronomy.fertilizer.cases import SHELF, acres, indexes, need_of, offer, offers, prices

sizes = st.lists(st.tuples(st.sampled_from(["oats", "turnip", "white_clover"]), indexes, indexes, acres), min_size=2,
                 max_size=4)  # fmt: skip


def plots(rows: list[tuple[str, float, float, float]]) -> list[BlendPlot]:
    return [
        BlendPlot(f"plot {number}", need_of(crop, p, k), size) for number, (crop, p, k, size) in enumerate(rows)
    ]


@settings(max_examples=25, deadline=None)
@given(sizes, offers(3, 6), st.booleans())
def test_buying_rounds_up_the_sum_and_no_plot_is_worse_off(
    rows: list[tuple[str, float, float, float]], shelf: tuple[FertilizerOffer, ...], whole: bool
) -> None:
    together = best_shared(plots(rows), shelf, whole_bags=whole)
    for purchase in together.purchases:
        used = sum(line.lb for plan in together.plots for line in plan.lines if line.offer == purchase.offer)
        assert purchase.packages == math.ceil(used / purchase.package_lb - 1e-6)
    assert together.dollars == pytest.approx(sum(plan.dollars for plan in together.plots))
    assert together.least_dollars <= together.dollars + 0.02
    assert together.gap_percent <= 0.5


def test_nothing_is_bought_that_nothing_is_spread_from() -> None:
    """Three phosphates at one price, among which the solver may choose freely."""
    shelf = [offer(key, 8.0) for key in ("dap", "blend_13_13_13", "map")]
    together = best_shared(plots([("oats", 45.0, 40.0, 1.0), ("oats", 45.0, 41.0, 1.0)]), shelf)
    spread = {line.offer for plan in together.plots for line in plan.lines}
    assert {purchase.offer for purchase in together.purchases} == spread
    assert together.dollars == pytest.approx(sum(purchase.dollars for purchase in together.purchases))
    assert together.dollars == pytest.approx(sum(plan.dollars for plan in together.plots))


@settings(max_examples=20, deadline=None)
@given(sizes, offers(4, 6))
def test_sharing_bags_never_costs_more_than_splitting_them_alone(
    rows: list[tuple[str, float, float, float]], shelf: tuple[FertilizerOffer, ...]
) -> None:
    placed = plots(rows)
    together = best_shared(placed, shelf, gap=0.0)
    split = BlendLimits(whole_bags=False)
    alone = [best(plot.need, shelf, acres=plot.acres, limits=split) for plot in placed]
    if together.meets_need and all(plan.meets_need for plan in alone):
        assert together.dollars <= sum(plan.dollars for plan in alone) + 0.02


def test_a_bag_is_shared_by_plots_that_each_take_a_part() -> None:
    placed = [BlendPlot(key, need_of("white_clover", 90, 50), 0.2) for key in ("a", "b", "c")]
    together = best_shared(placed, [offer("muriate_of_potash")])
    (purchase,) = together.purchases
    assert purchase.packages == 1  # 41.5 lb K2O on 0.6 acre is 41.5 lb of potash
    assert [plan.of("k2o").delivered for plan in together.plots] == pytest.approx([41.5] * 3, abs=0.01)
    assert sum(plan.dollars for plan in together.plots) == pytest.approx(30)
    assert together.plan_of("b").plot == "b"
    with pytest.raises(ValueError, match="no plot 'z'"):
        together.plan_of("z")


@settings(max_examples=20, deadline=None)
@given(prices, prices, st.integers(0, 4), st.integers(0, 5))
def test_stock_and_least_orders_shared_by_plots_match_brute_force(
    dap: float, potash: float, bags_on_hand: int, least: int
) -> None:
    placed = [
        BlendPlot("a", need_of("oats", n_chosen_lb_per_acre=40), 0.75),
        BlendPlot("b", need_of("oats", 60, 40, n_chosen_lb_per_acre=10), 1.0),
    ]
    shelf = [
        offer("dap", dap, on_hand_lb=50.0 * bags_on_hand), offer("muriate_of_potash", potash, minimum_packages=least),
    ]  # fmt: skip
    together = best_shared(placed, shelf, whole_bags=True, gap=0.0)
    costs = []
    for one, other in itertools.product(*(fitting(plot, shelf) for plot in placed)):
        buy_dap, buy_potash = max(0, one[0] + other[0] - bags_on_hand), one[1] + other[1]
        costs.append(buy_dap * dap + (max(buy_potash, least) if buy_potash else 0) * potash)
    assert costs
    assert together.dollars == pytest.approx(min(costs), abs=0.02)


def fitting(plot: BlendPlot, shelf: Sequence[FertilizerOffer]) -> list[tuple[int, ...]]:
    """Every number of bags that meets a plot's need inside its band, half a bag short at most of what is used."""
    return [counts for counts in itertools.product(range(8), repeat=len(shelf)) if _fits(plot, shelf, counts)]


def _fits(plot: BlendPlot, shelf: Sequence[FertilizerOffer], counts: Sequence[int]) -> bool:
    for one in (plot.need.n, plot.need.p2o5, plot.need.k2o):
        bag = [50 * each.share(one.nutrient) / plot.acres for each in shelf]
        delivered = sum(lb * count for lb, count in zip(bag, counts, strict=True))
        half = sum(lb / 2 for lb, count in zip(bag, counts, strict=True) if count)
        assert one.lb_per_acre is not None
        assert one.low is not None
        assert one.high is not None
        least = one.lb_per_acre - min(half, one.lb_per_acre - one.low)
        if not least - 1e-6 <= delivered <= one.high + 1e-6:
            return False
    return True


def test_stock_that_does_not_go_round_leaves_the_least_short() -> None:
    placed = [BlendPlot(key, need_of("white_clover", 90, 50), 1.0) for key in ("a", "b")]
    together = best_shared(placed, [offer("muriate_of_potash", None, on_hand_lb=100)])
    assert not together.meets_need
    assert sum(plan.of("k2o").delivered for plan in together.plots) == pytest.approx(60)
    assert any(f.code == "blend_missing_stock" for plan in together.plots for f in plan.findings)


def test_a_shared_purchase_needs_plots_each_once() -> None:
    with pytest.raises(ValueError, match="one or more plots"):
        best_shared([], [offer("urea")])
    twice = [BlendPlot("a", need_of("oats"), 1.0)] * 2
    with pytest.raises(ValueError, match="each once"):
        best_shared(twice, [offer("urea")])


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(["oats", "turnip"]), indexes, indexes, acres)
def test_a_hand_way_that_keeps_every_limit_is_never_cheaper(crop: str, p: float, k: float, size: float) -> None:
    shelf = [offer(key, 20 + 3 * number) for number, key in enumerate(SHELF)]
    need = need_of(crop, p, k)
    plan = best(need, shelf, acres=size, limits=BlendLimits(part_bags=False))
    for way in by_hand(need, shelf, acres=size):
        if way.keeps_limits and plan.meets_need:
            assert plan.dollars <= way.dollars + 0.02


def test_the_hand_ways_show_what_they_get_wrong() -> None:
    shelf = [offer("urea", 25), offer("triple_superphosphate", 32), offer("muriate_of_potash", 28),
             offer("blend_13_13_13", 20)]  # fmt: skip
    grade, straight = by_hand(need_of("oats", n_chosen_lb_per_acre=40), shelf, acres=0.75)
    assert [(line.grade, line.packages) for line in grade.lines] == [("13-13-13", 11)]
    assert grade.dollars == 220
    assert [finding.values["nutrient"] for finding in grade.findings] == ["N", "K2O"]
    assert {line.grade: line.packages for line in straight.lines} == {"0-46-0": 3, "0-0-60": 2, "46-0-0": 2}
    (over, again) = straight.findings
    assert (over.code, again.code) == ("hand_way_over", "hand_way_over")
    clover = by_hand(need_of("white_clover"), [offer("blend_13_13_13")], acres=0.75)[0]
    assert clover.findings[0].code == "hand_way_nitrogen_on_legume"


def test_one_grade_is_sized_on_every_nutrient_with_all_that_is_over_and_short() -> None:
    need = need_of("oats", n_chosen_lb_per_acre=40)
    made = {one.nutrient: one for one in sizings(need, offer("blend_13_13_13"), acres=2)}
    assert made["p2o5"].lb_per_acre == pytest.approx(88.5 / 0.13)
    balance = {entry.nutrient: entry for entry in made["n"].balance}
    assert balance["n"].over == balance["n"].short == 0
    assert balance["p2o5"].short == pytest.approx(48.5)
