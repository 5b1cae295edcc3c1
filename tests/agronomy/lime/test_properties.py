"""What must hold of lime whatever the figures: more acid, better stone, deeper, less, later."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from agronomy.lime_rate import SpreadLime, dressings, material_rate, owed, residual_lime_share, round_bulk, token_rate
from agronomy.lime_requirement import calibrations, choose_requirement, requirement
from agronomy.liming_material import effective_neutralizing_value, fineness_factor, first_year_share, schemes
from agronomy.soil import SoilFacts
from tests.agronomy.lime.cases import BUFFER_OF, PELLETS, SAMPLED, STONE, oregon, owing, sieves

SCHEMES = st.sampled_from(sorted(key for key, one in schemes().items() if one.factors))
BUFFERED = sorted(BUFFER_OF)


def ranges(key: str) -> tuple[float, float]:
    return calibrations()[key].valid_low, calibrations()[key].valid_high


def target_of(key: str) -> float:
    held = calibrations()[key]
    return held.targets[0] if held.targets else 6.2


def amount(key: str, reading: float, ph: float = 5.0, target: float | None = None) -> float | None:
    soil = SoilFacts(soil_ph=ph, buffer_ph=reading, buffer_method=BUFFER_OF[key])
    return requirement(soil, calibration=key, target_ph=target or target_of(key)).amount


@given(key=st.sampled_from(BUFFERED), shares=st.tuples(st.floats(0, 1), st.floats(0, 1)))
def test_a_more_acid_buffer_never_asks_less(key: str, shares: tuple[float, float]) -> None:
    low, high = ranges(key)
    stronger, weaker = (amount(key, low + share * (high - low)) for share in sorted(shares))
    assume(stronger is not None and weaker is not None)
    assert stronger >= weaker - 1e-9
    assert weaker >= 0


@given(key=st.sampled_from(sorted(calibrations())), phs=st.tuples(st.floats(4.6, 6.9), st.floats(4.6, 6.9)))
def test_a_more_acid_soil_never_asks_less(key: str, phs: tuple[float, float]) -> None:
    reading = sum(ranges(key)) / 2 if key in BUFFER_OF else None
    facts = SoilFacts(buffer_method=BUFFER_OF.get(key), buffer_ph=reading, cec_meq_100g=8, texture="loam",
                      exchangeable_acidity_meq_100g=5, lbc_eq_mg_kg_ph=300, reactive_al_ppm=60)  # fmt: skip
    target = 6.5 if key not in BUFFER_OF else target_of(key)
    acid, sweet = (
        requirement(replace(facts, soil_ph=ph), calibration=key, target_ph=target).amount for ph in sorted(phs)
    )
    assume(acid is not None and sweet is not None)
    # Acidity that is read apart from pH goes by that alone until pH is at target.
    assert acid >= sweet - 1e-9


@given(st.tuples(st.floats(5.6, 7.2), st.floats(5.6, 7.2)), st.floats(4.8, 6.9), st.floats(4, 5.5))
def test_a_higher_target_never_asks_less(targets: tuple[float, float], reading: float, ph: float) -> None:
    low, high = (amount("sikora_oregon_2025", reading, ph, target) for target in sorted(targets))
    assert high >= low - 1e-9


@given(soil_ph=st.floats(4, 8), reading=st.floats(4, 8), target=st.floats(5, 7.5), cec=st.none() | st.floats(1, 40),
       key=st.sampled_from(BUFFERED))  # fmt: skip
def test_no_rate_is_ever_negative_and_its_range_holds_it(soil_ph, reading, target, cec, key) -> None:
    soil = SoilFacts(soil_ph=soil_ph, buffer_ph=reading, buffer_method=BUFFER_OF[key], cec_meq_100g=cec)
    made = choose_requirement(soil, target_ph=target, trigger_ph=target - 0.3, calibration=key)
    if made.amount is None:
        assert any(one.severity == "stop" for one in made.findings)
    else:
        assert 0 <= made.low <= made.amount + 1e-9 and made.amount <= made.high + 1e-9


@given(st.sampled_from([2.0, 3.0, 4.0, 6.0]), st.floats(4.9, 6.8))
def test_twice_the_depth_is_twice_the_rate(depth: float, reading: float) -> None:
    made = oregon(buffer=reading)
    assert owing(made, depth_in=2 * depth).amount == pytest.approx(2 * owing(made, depth_in=depth).amount)


@given(SCHEMES, sieves(), st.tuples(st.floats(1, 180), st.floats(1, 180)), st.floats(0, 40))
def test_effective_value_rises_with_cce(key: str, passing, cces: tuple[float, float], moisture: float) -> None:
    low, high = (
        effective_neutralizing_value(key, passing_percent=passing, cce_percent=cce, moisture_percent=moisture).value
        for cce in sorted(cces)
    )
    assert 0 <= low <= high + 1e-9


@given(SCHEMES, sieves(), st.integers(0, 6), st.floats(0, 1))
def test_effective_value_never_falls_when_more_passes_a_sieve(key: str, passing, place: int, share: float) -> None:
    above = passing[place - 1][1] if place else 100.0
    finer = list(passing)
    finer[place] = (passing[place][0], passing[place][1] + share * (above - passing[place][1]))
    coarse = fineness_factor(key, passing_percent=passing).value
    fine = fineness_factor(key, passing_percent=finer).value
    assert fine >= coarse - 1e-9
    assert -1e-9 <= coarse <= 100 + 1e-9


@given(st.floats(20, 100), st.floats(20, 100))
def test_a_better_stone_never_takes_more_pounds(first: float, second: float) -> None:
    worse, better = (
        material_rate(owing(), material=replace(STONE, cce_percent=cce), incorporated=True).lb_per_acre
        for cce in sorted((first, second))
    )
    assert better <= worse + 1e-9


@given(sieves())
def test_the_first_year_is_a_share(passing) -> None:
    assert -1e-9 <= first_year_share(replace(STONE, passing_percent=passing)) <= 1 + 1e-9


@pytest.mark.parametrize(
    ("passing", "allowed"), [(((8, 50), (60, 60)), "more than"), (((8, 101),), "0 to 100"), (((8, -1),), "0 to 100")]
)
def test_impossible_sieves_are_refused(passing, allowed: str) -> None:
    with pytest.raises(ValueError, match=allowed):
        fineness_factor("iowa_ecce", passing_percent=passing)


@pytest.mark.parametrize(("cce", "moisture"), [(251, 0), (-1, 0), (90, 100), (90, -1), (90, 101)])
def test_impossible_analyses_are_refused_with_the_range(cce: float, moisture: float) -> None:
    with pytest.raises(ValueError, match="0 to"):
        effective_neutralizing_value("iowa_ecce", passing_percent=PELLETS.passing_percent, cce_percent=cce,
                                     moisture_percent=moisture)  # fmt: skip


@pytest.mark.parametrize("target", [3.9, 8.1, -1, 70])
def test_an_impossible_target_or_method_is_refused(target: float) -> None:
    with pytest.raises(ValueError, match="4 to 8"):
        requirement(SoilFacts(soil_ph=5.5), calibration="cec_estimate", target_ph=target)
    with pytest.raises(ValueError, match="sikora_oregon_2025"):
        requirement(SoilFacts(soil_ph=5.5), calibration="none such", target_ph=6)


# A target that a table does not print


def iowa(target: float):
    soil = SoilFacts(soil_ph=5.4, buffer_ph=6.4, buffer_method="smp", texture="loam")
    return choose_requirement(soil, target_ph=target, trigger_ph=target - 0.3, calibration="smp_iowa_2002")


@pytest.mark.parametrize("target", [6.0, 6.2, 6.4])
def test_the_next_printed_target_within_half_a_point_is_used_and_told(target: float) -> None:
    made = iowa(target)
    assert (made.method, made.amount) == ("smp_iowa_2002", 3500)
    (told,) = [one for one in made.findings if one.code == "next_target_used"]
    assert (told.severity, told.values["target_ph"], told.values["printed_target_ph"]) == ("check", target, 6.5)


@pytest.mark.parametrize("target", [5.9, 7.0])
def test_a_target_further_off_or_above_all_columns_is_estimated(target: float) -> None:
    made = iowa(target)
    assert made.is_estimate and "next_target_used" not in [one.code for one in made.findings]


# What was spread


def spread(days: int, pounds: float = 2000.0, key: str = "a") -> SpreadLime:
    return SpreadLime(key, SAMPLED + dt.timedelta(days=days), pounds, STONE)


@given(st.lists(st.tuples(st.integers(-900, 900), st.floats(0, 8000)), max_size=6))
def test_what_is_owed_lies_between_nothing_and_the_requirement(dressed: list[tuple[int, float]]) -> None:
    rows = [spread(days, pounds, str(place)) for place, (days, pounds) in enumerate(dressed)]
    whole, left = owing().amount, owing(spread=rows).amount
    assert 0 <= left <= whole


@given(st.integers(1, 900), st.floats(1, 8000))
def test_lime_after_the_sample_counts_in_full_whenever(days: int, pounds: float) -> None:
    made = owing(spread=[spread(days, pounds)])
    assert made.credited_after == pytest.approx(pounds * 0.627 / 2000, rel=1e-3)
    assert made.credited_before == 0


@given(st.floats(0, 40))
def test_lime_before_the_sample_runs_down_by_8_percent_a_month(months: float) -> None:
    assert residual_lime_share(months, soil_class="mineral") == pytest.approx(max(0, 100 - 8 * months))
    assert residual_lime_share(months, soil_class="organic") == pytest.approx(max(0, 100 - 16 * months))


def test_six_months_before_the_sample_about_half_still_counts() -> None:
    made = owing(spread=[spread(-183)])
    months = 183 / (365.25 / 12)
    assert made.credited_before == pytest.approx(2000 * 0.627 / 2000 * (1 - 0.08 * months), rel=1e-3)
    assert owing(spread=[spread(-183)], soil_class="organic").credited_before < 0.1 * made.credited_before


def test_one_dressing_never_counts_twice() -> None:
    once, twice = owing(spread=[spread(30)]), owing(spread=[spread(30), spread(30)])
    assert twice.amount == once.amount
    assert owing(spread=[spread(30), spread(30, key="b")]).amount < once.amount


def test_gypsum_is_credited_with_nothing() -> None:
    gypsum = replace(STONE, form="gypsum")
    made = owed(oregon(), spread=[SpreadLime("g", SAMPLED + dt.timedelta(9), 9000, gypsum)], sample_date=SAMPLED,
                depth_in=6)  # fmt: skip
    assert made.amount == owing().amount


# Split, staged, token


@given(st.floats(1, 60_000), st.booleans())
def test_dressings_add_up_under_the_limit_and_half_a_year_apart(pounds: float, incorporated: bool) -> None:
    parts, found = dressings(pounds, incorporated=incorporated)
    assert sum(one.lb_per_acre for one in parts) == pytest.approx(pounds)
    if incorporated:
        assert all(one.lb_per_acre < 8000 for one in parts)
    else:
        assert all(one.lb_per_acre <= 4000 * (1 + 1e-12) for one in parts)
    assert [one.months_after for one in parts] == [6 * place for place in range(len(parts))]
    assert bool(found) == (len(parts) > 1)


@given(st.floats(100, 20_000))
def test_no_more_dressings_than_the_limit_asks(pounds: float) -> None:
    assert len(dressings(pounds, incorporated=False)[0]) - 1 < pounds / 4000
    assert len(dressings(pounds, incorporated=True)[0]) - 1 <= pounds / 8000


def test_staged_is_half_now_but_not_before_a_perennial_worked_in() -> None:
    full = material_rate(owing(), material=STONE, incorporated=True)
    staged = material_rate(owing(), material=STONE, incorporated=True, policy="staged")
    kept = material_rate(owing(), material=STONE, incorporated=True, policy="staged", establishing_perennial=True)
    on_sod = material_rate(owing(), material=STONE, incorporated=False, policy="staged", establishing_perennial=True)
    assert staged.lb_per_acre == pytest.approx(full.lb_per_acre / 2)
    assert kept.lb_per_acre == full.lb_per_acre
    assert on_sod.lb_per_acre == pytest.approx(full.lb_per_acre / 2)
    assert "staged_half_now" in [one.code for one in staged.findings]
    assert "staging_not_before_perennial" in [one.code for one in kept.findings]
    with pytest.raises(ValueError, match="full, staged"):
        material_rate(owing(), material=STONE, incorporated=True, policy="slow")


@given(st.floats(0, 9000), st.floats(1, 9000))
def test_a_token_rate_is_told_of_pellets_only(pounds: float, full: float) -> None:
    found = token_rate(pounds, full_lb_per_acre=full, form="pelletized")
    assert (found is not None) == (pounds < 0.2 * full)
    assert token_rate(pounds, full_lb_per_acre=full, form="quarry") is None
    if found is not None:
        assert found.source == "pellet_trials" and found.values["share_percent"] == pytest.approx(100 * pounds / full)


@given(st.floats(0, 20))
def test_bulk_goes_in_quarter_tons(tons: float) -> None:
    rounded = round_bulk(tons)
    assert rounded * 4 == int(rounded * 4) and abs(rounded - tons) <= 0.125 + 1e-9
