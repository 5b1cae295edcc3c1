"""The blend of one plot, held against brute force and against its own claims."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agronomy.blend import BlendLimits, BlendPlan, FertilizerOffer, best
from agronomy.blend.bounds import bounds_of, screened
from agronomy.blend.offers import BlendPlot
from agronomy.fertilizer_material import Fertilizer
from agronomy.nutrients import PlotNeed
from tests.agronomy.fertilizer.cases import acres, indexes, need_of, offer, offers

WHOLE_ONLY = BlendLimits(part_bags=False)
crops = st.sampled_from(["oats", "corn", "turnip", "white_clover", "alfalfa"])


def brute(need: PlotNeed, shelf: Sequence[FertilizerOffer], size: float, limits: BlendLimits) -> float | None:
    """Least dollars over every number of whole bags, by the rules as they are written down, not as they are solved."""
    place = BlendPlot("", need, size, limits)
    kept = screened(place, shelf)[0]
    bounds = bounds_of(need, limits)
    counts = []
    for one in kept:
        most = min(b.high * size / (one.share(b.nutrient) * one.package_lb) for b in bounds if one.share(b.nutrient))
        counts.append(range(math.floor(most + 1e-9) + 1))
    found = None
    for bags in itertools.product(*counts):
        if limits.most_products is not None and sum(count > 0 for count in bags) > limits.most_products:
            continue
        if all(_fits(bound, kept, bags, size) for bound in bounds):
            dollars = sum(_paid(one, count) for one, count in zip(kept, bags, strict=True))
            found = dollars if found is None else min(found, dollars)
    return found


def _paid(one: FertilizerOffer, count: int) -> float:
    need_to_buy = max(0, math.ceil(count - one.on_hand_lb / one.package_lb - 1e-9))
    if one.price_dollars is None:
        return 0.0 if need_to_buy == 0 else math.inf
    return max(need_to_buy, one.minimum_packages if need_to_buy else 0) * one.price_dollars


def _fits(bound: object, kept: Sequence[FertilizerOffer], bags: Sequence[int], size: float) -> bool:
    carriers = [
        (one.share(bound.nutrient) * one.package_lb / size, count)  # type: ignore[attr-defined]
        for one, count in zip(kept, bags, strict=True)
        if one.share(bound.nutrient)  # type: ignore[attr-defined]
    ]
    delivered = sum(each * count for each, count in carriers)
    aim, low, high = bound.aim, bound.low, bound.high  # type: ignore[attr-defined]
    if delivered > high + 1e-6:
        return False
    if aim <= 0 or not carriers:
        return True
    allowed = sum(each / 2 for each, count in carriers if count)
    if aim <= max(each for each, _ in carriers) / 2:
        allowed = aim
    return delivered >= aim - min(allowed, aim - low) - 1e-6


def test_the_clover_of_the_worked_example() -> None:
    shelf = [offer("dap", 10), offer("triple_superphosphate", 32), offer("muriate_of_potash", 28)]
    plan = best(need_of("white_clover"), shelf, acres=0.75)
    assert {line.offer: line.packages for line in plan.lines} == {"triple_superphosphate": 3, "muriate_of_potash": 1}
    assert plan.delivered == pytest.approx((0, 92, 40))
    assert plan.dollars == pytest.approx(124)
    assert plan.meets_need
    (refused,) = plan.refused
    assert (refused.offer, refused.finding.code) == ("dap", "blend_nitrogen_on_legume")
    assert refused.finding.values["n_lb_per_acre"] == pytest.approx(36)
    assert refused.finding.values["limit"] == 25


def test_the_deer_plot_of_the_worked_example() -> None:
    plan = best(need_of("oats", n_chosen_lb_per_acre=40), [offer("dap"), offer("muriate_of_potash")], acres=0.75)
    assert {line.offer: line.packages for line in plan.lines} == {"dap": 3, "muriate_of_potash": 1}
    assert plan.delivered == pytest.approx((36, 92, 40))
    assert plan.of("n").short == pytest.approx(4)
    assert plan.of("k2o").short == pytest.approx(1.5)
    assert plan.of("p2o5").over == pytest.approx(3.5)
    assert plan.cost_per_acre == pytest.approx(120 / 0.75)
    assert plan.cost_per_lb_nutrient == pytest.approx(120 / (168 * 0.75))
    assert plan.acidity_lb_caco3 == pytest.approx(150 * 0.18 * 3.6)


@settings(max_examples=30, deadline=None)
@given(crops, indexes, indexes, offers(), acres, st.none() | st.integers(1, 3))
def test_whole_bags_cost_what_brute_force_finds(
    crop: str, p: float, k: float, shelf: tuple[FertilizerOffer, ...], size: float, products: int | None
) -> None:
    need = need_of(crop, p, k)
    limits = BlendLimits(part_bags=False, most_products=products)
    expected = brute(need, shelf, size, limits)
    plan = best(need, shelf, acres=size, limits=limits)
    if expected is None:
        assert not plan.meets_need
        assert any(finding.code.startswith("blend_missing") for finding in plan.findings)
        return
    assert plan.dollars == pytest.approx(expected, abs=0.02)


@settings(max_examples=30, deadline=None)
@given(offers(2, 3), st.floats(0, 400), st.integers(0, 6))
def test_stock_and_least_orders_cost_what_brute_force_finds(
    shelf: tuple[FertilizerOffer, ...], on_hand: float, least: int
) -> None:
    first = shelf[0]
    stocked = (
        FertilizerOffer(first.key, first.product, price_dollars=first.price_dollars, on_hand_lb=round(on_hand)),
        *(FertilizerOffer(o.key, o.product, price_dollars=o.price_dollars, minimum_packages=least) for o in shelf[1:]),
    )
    need = need_of("oats")
    expected = brute(need, stocked, 1.5, WHOLE_ONLY)
    plan = best(need, stocked, acres=1.5, limits=WHOLE_ONLY)
    if expected is not None and expected < math.inf:
        assert plan.dollars == pytest.approx(expected, abs=0.02)


def claims(plan: BlendPlan, need: PlotNeed, shelf: Sequence[FertilizerOffer], size: float) -> None:
    """What a plan says of itself, worked out anew from its lines."""
    by_key = {one.key: one for one in shelf}
    for entry in plan.balance:
        delivered = sum(line.lb * by_key[line.offer].share(entry.nutrient) for line in plan.lines) / size
        assert entry.delivered == pytest.approx(delivered)
        if entry.need is not None:
            assert entry.over - entry.short == pytest.approx(delivered - entry.need, abs=0.051)
    assert sum(purchase.dollars for purchase in plan.purchases) == pytest.approx(plan.dollars)
    for purchase in plan.purchases:
        used = sum(line.lb for line in plan.lines if line.offer == purchase.offer)
        assert purchase.lb + by_key[purchase.offer].on_hand_lb >= used - 1e-6
        if by_key[purchase.offer].is_whole:
            assert purchase.packages == int(purchase.packages)
    if plan.meets_need:
        for bound in bounds_of(need, BlendLimits()):
            carried = any(one.share(bound.nutrient) for one in screened(BlendPlot("", need, size), shelf)[0])
            low = bound.low if carried else 0.0
            assert low - 0.01 <= plan.of(bound.nutrient).delivered <= bound.high + 0.01


@settings(max_examples=40, deadline=None)
@given(crops, indexes, indexes, offers(2, 7), acres)
def test_a_blend_meets_what_it_claims(
    crop: str, p: float, k: float, shelf: tuple[FertilizerOffer, ...], size: float
) -> None:
    need = need_of(crop, p, k)
    plan = best(need, shelf, acres=size)
    claims(plan, need, shelf, size)
    limit = need.n_limit_lb_per_acre
    if limit is not None:
        assert plan.of("n").delivered <= limit + 1e-6
    assert {line.offer for line in plan.lines}.isdisjoint(refusal.offer for refusal in plan.refused)


@settings(max_examples=30, deadline=None)
@given(crops, indexes, indexes, offers(2, 6), acres, st.booleans())
def test_an_added_offer_never_makes_it_dearer(
    crop: str, p: float, k: float, shelf: tuple[FertilizerOffer, ...], size: float, whole: bool
) -> None:
    need = need_of(crop, p, k)
    limits = WHOLE_ONLY if whole else BlendLimits(whole_bags=False)
    fewer, more = (best(need, some, acres=size, limits=limits) for some in (shelf[:-1], shelf))
    if fewer.meets_need:
        assert more.meets_need
        assert more.dollars <= fewer.dollars + 0.02


@settings(max_examples=40, deadline=None)
@given(indexes, indexes, offers(3, 6), acres)
def test_near_water_phosphate_is_held_to_the_need(
    p: float, k: float, shelf: tuple[FertilizerOffer, ...], size: float
) -> None:
    need = need_of("oats", p, k)
    plan = best(need, shelf, acres=size, limits=BlendLimits(near_water=True))
    assert plan.of("p2o5").delivered <= (need.p2o5.lb_per_acre or 0) + 0.01
    if plan.lines:
        assert "near_water" in {hazard.code for hazard in plan.hazards}


def test_bulk_meets_the_need_itself_and_not_the_low_end_of_its_band() -> None:
    bulk = [
        offer("urea", 500, package="bulk", package_lb=2000), offer("dap", 700, package="bulk", package_lb=2000),
        offer("muriate_of_potash", 480, package="bulk", package_lb=2000),
    ]  # fmt: skip
    need = need_of("oats")
    plan = best(need, bulk, acres=5)
    assert plan.delivered == pytest.approx((60, 88.5, 41.5), abs=0.01)
    assert plan.dollars == pytest.approx(sum(line.dollars for line in plan.lines))


def test_a_bag_is_split_where_no_whole_number_fits() -> None:
    plan = best(need_of("oats"), [offer("urea"), offer("dap"), offer("muriate_of_potash")], acres=0.1)
    assert plan.meets_need
    assert not plan.whole_bags
    assert "blend_part_bags" in {finding.code for finding in plan.findings}
    assert {purchase.packages for purchase in plan.purchases} == {1}
    assert plan.delivered[1] == pytest.approx(88.5)


@pytest.mark.parametrize(
    ("shelf", "acres_", "code"),
    [
        ([offer("triple_superphosphate"), offer("urea")], 0.75, "blend_missing_no_offer"),
        ([offer("triple_superphosphate", None, on_hand_lb=20), offer("urea"), offer("muriate_of_potash")], 0.75,
         "blend_missing_stock"),
        ([offer("blend_13_13_13")], 0.75, "blend_missing_combination"),
        ([offer("urea"), offer("dap"), offer("muriate_of_potash")], 0.1, "blend_missing_bag_too_large"),
    ],
)  # fmt: skip
def test_what_is_missing_is_said_with_its_reason(shelf: list[FertilizerOffer], acres_: float, code: str) -> None:
    plan = best(need_of("oats"), shelf, acres=acres_, limits=WHOLE_ONLY)
    assert not plan.meets_need
    assert plan.findings[0].severity == "stop"
    assert code in {finding.code for finding in plan.findings}


def test_what_only_refused_offers_carry_is_said() -> None:
    plan = best(need_of("white_clover"), [offer("dap"), offer("muriate_of_potash")], acres=0.75)
    missing = next(finding for finding in plan.findings if finding.code == "blend_missing_refused")
    assert missing.values["nutrient"] == "P2O5"
    assert missing.values["short"] == pytest.approx(88.5)
    assert plan.of("k2o").delivered == pytest.approx(40)


def test_a_need_that_is_not_known_is_left_out_and_told() -> None:
    need = need_of("apple")
    plan = best(need, [offer("urea"), offer("triple_superphosphate"), offer("muriate_of_potash")], acres=0.75)
    assert plan.of("n").delivered == 0
    assert "blend_need_not_known" in {refusal.finding.code for refusal in plan.refused}
    assert "blend_without_need" in {finding.code for finding in plan.findings}


def test_boron_and_unflagged_micronutrients_are_kept_off() -> None:
    mixed = FertilizerOffer("mixed", Fertilizer("mixed", "0-20-20 with boron", 0, 20, 20, {"b": 1.0}), price_dollars=5)
    zinc = FertilizerOffer("zinc", Fertilizer("zinc", "0-20-20 with zinc", 0, 20, 20, {"zn": 0.5}), price_dollars=5)
    trace = FertilizerOffer("trace", Fertilizer("trace", "0-20-20", 0, 20, 20, {"zn": 0.05}), price_dollars=9)
    plan = best(need_of("white_clover", 40, 40), [mixed, zinc, trace], acres=1)
    assert [line.offer for line in plan.lines] == ["trace"]
    assert [refusal.finding.code for refusal in plan.refused] == [
        "blend_boron_not_named", "blend_micronutrient_not_flagged",
    ]  # fmt: skip
    alfalfa = best(need_of("alfalfa"), [offer("borate_14"), mixed], acres=5)
    assert "mixed" not in {refusal.offer for refusal in alfalfa.refused}
    assert alfalfa.of("b").delivered <= 3


def test_beside_the_seed_salt_is_limited_and_urea_refused() -> None:
    need = need_of("corn", 40, 40)
    shelf = [offer("urea"), offer("map"), offer("muriate_of_potash")]
    limits = BlendLimits(with_seed=True, row_width_in=30, fine_soil=False, whole_bags=False)
    plan = best(need, shelf, acres=2, limits=limits)
    n, _, k2o = plan.delivered
    assert n + k2o <= 6 + 1e-6
    assert "blend_urea_with_seed" in {refusal.finding.code for refusal in plan.refused}
    assert "salt_with_seed" in {hazard.code for hazard in plan.hazards}
    with pytest.raises(ValueError, match="40, 30, 20"):
        BlendLimits(with_seed=True, row_width_in=15)


def test_the_number_of_products_is_held() -> None:
    shelf = [offer("urea"), offer("dap"), offer("muriate_of_potash"), offer("blend_13_13_13", 20)]
    plan = best(need_of("oats"), shelf, acres=3, limits=BlendLimits(most_products=1))
    assert len(plan.lines) <= 1


def test_stock_is_used_before_anything_is_bought() -> None:
    shelf = [offer("dap"), offer("muriate_of_potash", None, on_hand_lb=50)]
    plan = best(need_of("oats", n_chosen_lb_per_acre=40), shelf, acres=0.75)
    bought = {purchase.offer: (purchase.packages, purchase.on_hand_lb) for purchase in plan.purchases}
    assert bought == {"dap": (3, 0), "muriate_of_potash": (0, 50)}
    assert plan.dollars == pytest.approx(90)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: best(need_of("oats"), [offer("urea"), offer("urea")], acres=1), "twice"),
        (lambda: best(need_of("oats"), [], acres=0), "0.001 to 2000"),
        (lambda: offer("urea", package_lb=0), "0.1 to"),
        (lambda: offer("urea", -1), "0 to"),
        (lambda: offer("urea", package="sack"), "none of"),
        (lambda: BlendLimits(most_products=0), "1 to 12"),
    ],
)
def test_input_out_of_range_is_refused(call: object, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()  # type: ignore[operator]


def test_the_solver_prints_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    best(need_of("oats"), [offer("urea"), offer("dap"), offer("muriate_of_potash")], acres=1)
    assert capfd.readouterr() == ("", "")
