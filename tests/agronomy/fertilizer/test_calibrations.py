"""The publications as data: whole, sourced, and true to their own extractant."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from agronomy.crops import combine, crop, crops
from agronomy.nutrients import (
    EXTRACTANT_NAMES,
    PlantingFacts,
    SoilReading,
    calibration,
    calibrations,
    choose_calibration,
    compare,
    critical_spread,
    need,
    soil_test_rating,
)
from agronomy.nutrients.calibrations import Calibration
from agronomy.nutrients.choose import calibrations_for
from agronomy.nutrients.rules import falling_parabola, first_root
from agronomy.soil import SoilFacts
from agronomy.sources import load_table, source

LOAM = SoilFacts(soil_ph=6.2, cec_meq_100g=9)
HAYED = PlantingFacts(inoculated=True, use="hayed", yield_goal=4)
READ = {"p2o5": "p", "k2o": "k"}
PARABOLAS = {int(key): tuple(e) for key, e in load_table("north_carolina_food_plot")["equations"].items()}
RATES = [known for known in calibrations().values() if known.gives_rates]
BY_FIGURE = [known for known in RATES if known.form != "rates_by_rating"]


def crop_of(known: Calibration) -> str:
    return next(key for key in crops() if known.crop_for(crop(key)))


def rate(known: Calibration, nutrient: str, value: float, extractant: str, unit: str) -> float | None:
    reading = SoilReading(READ[nutrient], value, unit, extractant)
    found = need(combine([(crop_of(known), 100)]), [reading], calibration=known.key, planting=HAYED, soil=LOAM)
    return (found.p2o5 if nutrient == "p2o5" else found.k2o).lb_per_acre


def test_every_calibration_names_its_publication() -> None:
    assert len(calibrations()) >= 11
    for known in calibrations().values():
        assert source(known.key).citation
        assert known.status == source(known.key).status
        assert known.gives_rates or known.ratings


def test_each_of_the_twenty_equations_holds_its_first_root_or_vertex() -> None:
    assert sorted(PARABOLAS) == list(range(1, 21))
    without_root = [number for number, parabola in PARABOLAS.items() if first_root(parabola) is None]
    assert 4 in without_root
    for a, b, c in PARABOLAS.values():
        turn = -b / (2 * a)
        least = max(0.0, c - b * b / (4 * a))
        assert falling_parabola((a, b, c), turn + 100) == pytest.approx(least, abs=1e-9)
        assert falling_parabola((a, b, c), 0) == c


@given(st.sampled_from(sorted(PARABOLAS)), st.floats(0, 400), st.floats(0, 400))
def test_an_equation_never_rises(number: int, one: float, other: float) -> None:
    low, high = sorted((one, other))
    parabola = PARABOLAS[number]
    assert falling_parabola(parabola, low) >= falling_parabola(parabola, high) - 1e-9


@given(st.sampled_from(BY_FIGURE), st.sampled_from(sorted(READ)), st.data())
def test_a_need_never_rises_with_the_soil_test(known: Calibration, nutrient: str, data: st.DataObject) -> None:
    scale = data.draw(st.sampled_from(known.rules[nutrient].scales))  # type: ignore[index]
    low, high = sorted(data.draw(st.tuples(st.floats(0, 500), st.floats(0, 500))))
    values = [rate(known, nutrient, value, scale.extractants[0], scale.unit) for value in (low, high)]
    assert None not in values
    assert values[0] >= values[1] - 1e-9  # type: ignore[operator]
    assert values[1] >= 0  # type: ignore[operator]


@given(st.sampled_from(BY_FIGURE), st.sampled_from(sorted(READ)), st.sampled_from(sorted(EXTRACTANT_NAMES)))
def test_a_calibration_takes_its_own_extractant_only(known: Calibration, nutrient: str, extractant: str) -> None:
    own = {key for scale in known.rules[nutrient].scales for key in scale.extractants}  # type: ignore[index]
    assume(extractant not in own)
    reading = SoilReading(READ[nutrient], 12, "ppm", extractant)
    made = need(combine([(crop_of(known), 100)]), [reading], calibration=known.key, planting=HAYED, soil=LOAM)
    found = made.p2o5 if nutrient == "p2o5" else made.k2o
    assert found.lb_per_acre is None
    assert found.findings[0].code == "extractant_not_accepted"
    assert found.findings[0].severity == "stop"


@pytest.mark.parametrize("known", [k for k in RATES if k.form == "rates_by_rating"], ids=lambda k: k.key)
def test_rates_by_rating_need_the_labs_word_and_fall_with_it(known: Calibration) -> None:
    demand = combine([(crop_of(known), 100)])
    bare = need(demand, [SoilReading("p", 30, "ppm", known.rules["p2o5"].scales[0].extractants[0])],
                calibration=known.key)  # fmt: skip
    assert bare.p2o5.findings[0].code == "rating_needed"
    words = ("Low", "Medium", "High")
    found = [need(demand, [SoilReading("p", None, rating=word)], calibration=known.key).p2o5 for word in words]
    rates = [one.lb_per_acre or 0 for one in found]
    assert rates == sorted(rates, reverse=True)
    assert rates[0] > rates[-1]
    assert [one.rating for one in found] == list(words)
    strange = need(demand, [SoilReading("p", None, rating="so-so")], calibration=known.key)
    assert strange.p2o5.findings[0].code == "rating_not_known"


def test_a_texture_between_clay_and_sand_gets_the_middle_as_an_estimate() -> None:
    demand, reading = combine([("corn", 100)]), [SoilReading("k", None, rating="very low")]
    by_texture = {
        texture: need(demand, reading, calibration="cornell_corn", soil=SoilFacts(texture=texture)).k2o.lb_per_acre  # type: ignore[arg-type]
        for texture in ("clay", "loam", "sand")
    }
    assert by_texture == {"clay": 50, "loam": 85, "sand": 120}


@pytest.mark.parametrize("known", [k for k in calibrations().values() if k.ratings], ids=lambda k: k.key)
def test_classes_follow_each_other(known: Calibration) -> None:
    for element, table in known.ratings.items():
        extractant = table.scale.extractants[0]
        step = max(table.upper) / 400
        seen: list[str] = []
        for count in range(500):
            reading = SoilReading(element, count * step, table.scale.unit, extractant)
            word = soil_test_rating(known.key, reading=reading)
            if not seen or seen[-1] != word:
                seen.append(word)
        assert tuple(seen) == table.names


def test_publications_stand_side_by_side_and_disagree_openly() -> None:
    standings = {one.calibration: one for one in compare(SoilReading("p", 34, "ppm", "mehlich3"))}
    assert standings["delaware_mehlich3"].rating == "Medium"
    assert standings["iowa_mehlich3"].rating == "Very High"
    assert standings["delaware_mehlich3"].is_enough is False
    assert standings["iowa_mehlich3"].is_enough is True
    assert standings["north_carolina_food_plot"].is_estimate
    assert not standings["minnesota_red_clover"].rating
    assert standings["minnesota_red_clover"].findings[0].code == "extractant_not_accepted"
    limits = critical_spread("p", "mehlich3")
    assert len(limits) >= 3
    assert [unit for _, _, unit in limits]


def test_the_choice_is_the_groups_then_the_propertys_then_the_states() -> None:
    wheat, clover, turnip = (combine([(key, 100)]) for key in ("winter_wheat", "red_clover", "turnip"))
    assert choose_calibration(wheat, state="OH", chosen="clemson", by_group={"cereal": "tri_state_1995"}).key == (
        "tri_state_1995"
    )
    assert choose_calibration(wheat, state="OH", chosen="clemson").key == "clemson"
    assert choose_calibration(wheat, state="oh").key == "tri_state_2020"
    assert choose_calibration(clover, state="MN").key == "minnesota_red_clover"
    none_for_it = choose_calibration(turnip, state="MN")
    assert (none_for_it.key, none_for_it.reason) == ("north_carolina_food_plot", "fallback")
    assert none_for_it.findings[0].code == "calibration_not_of_state"
    assert none_for_it.findings[0].values["state"] == "MN"
    assert choose_calibration(turnip).findings[0].code == "calibration_default"
    with pytest.raises(ValueError, match="no fertilizer calibration"):
        choose_calibration(turnip, chosen="nowhere")


def test_a_crop_without_a_table_falls_back_and_says_so() -> None:
    made = need(combine([("turnip", 100)]), [SoilReading("p", 25, "index", "mehlich3")], calibration="tri_state_2020")
    assert made.p2o5.calibration == "north_carolina_food_plot"
    assert made.p2o5.lb_per_acre == pytest.approx(88.5)
    told = {finding.code: finding for finding in made.findings}["calibration_lacks_crop"]
    assert told.values["crops"] == "Turnip"


def test_the_list_to_choose_from_has_a_table_for_the_crop() -> None:
    assert "tri_state_2020" in calibrations_for(crop("corn"))
    assert "tri_state_2020" not in calibrations_for(crop("turnip"))
    assert "delaware_mehlich3" not in calibrations_for(crop("corn"))
    assert calibration("north_carolina_food_plot").key in calibrations_for(None)
