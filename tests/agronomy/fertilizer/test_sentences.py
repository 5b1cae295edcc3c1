"""The sentences of fertilizer, said with the values that the calculations really give them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import agronomy
from agronomy.blend import BlendLimits, FertilizerOffer, best, by_hand
from agronomy.crops import Crop, combine
from agronomy.fertilizer_material import Fertilizer, hazards_of, hazards_of_spreading, materials
from agronomy.findings import Finding, Hazard
from agronomy.nitrogen import season_nitrogen
from agronomy.nitrogen_timing import SpreadingConditions, split_nitrogen, spreading_advice
from agronomy.nutrients import (
    CalibrationChoice,
    LabLine,
    PlantingFacts,
    SoilReading,
    choose_calibration,
    compare,
    need,
)
from agronomy.soil import SoilFacts
from agronomy.sources import sources
from plots.figures import NOTHING
from plots.templatetags.trade import finding_sentence, hazard_sentence, plain
from tests.agronomy.fertilizer.cases import index, need_of, offer

FOLDER = Path(agronomy.__file__).parent
MODULES = [
    FOLDER / "crops.py", FOLDER / "fertilizer_material.py", *FOLDER.glob("nitrogen*.py"),
    *(FOLDER / "nutrients").glob("*.py"), *(FOLDER / "blend").glob("*.py"),
]  # fmt: skip
TEMPLATES = Path(__file__).parents[3] / "templates"
CORN, OATS, CLOVER = (combine([(key, 100)]) for key in ("corn", "oats", "white_clover"))
LOAM = SoilFacts(soil_ph=6.6, cec_meq_100g=8)
BUILD_UP = [SoilReading("p", 20, "lb/acre", "bray_p1"), SoilReading("k", 90, "ppm", "ammonium_acetate")]


def crops() -> Iterator[Finding]:
    yield from combine([("alfalfa", 50), ("blueberry", 50)]).findings
    for demand in (OATS, CORN, CLOVER, combine([("apple", 100)])):
        for state in ("", "OH", "TX"):
            yield from choose_calibration(demand, state=state).findings
    yield from split_nitrogen(CORN, 120).findings
    yield from split_nitrogen(combine([("annual_ryegrass", 60), ("crimson_clover", 40)]), 25).findings
    for demand, chosen in ((combine([]), None), (combine([("apple", 100)]), None), (CLOVER, 60)):
        yield from season_nitrogen(demand, chosen_lb_per_acre=chosen).findings


def weather() -> Iterator[Finding]:
    days = (
        SpreadingConditions(frozen=True), SpreadingConditions(snow=True), SpreadingConditions(soaked=True),
        SpreadingConditions(heavy_rain_forecast=True, wind_mph=9),
        SpreadingConditions(heavy_rain_forecast=True, near_water=True), SpreadingConditions(limed_days_ago=3),
        SpreadingConditions(damp_surface=True), SpreadingConditions(inhibitor=True),
    )  # fmt: skip
    for day in days:
        yield from spreading_advice(day, urea=True)


def needs() -> Iterator[Finding]:
    readings = (
        [], [SoilReading("p", 12, "ppm", "olsen"), SoilReading("k", 100, "ppm", "ammonium_acetate")],
        [SoilReading("p", 12, "ppm"), SoilReading("k", 3, "lb/acre K2O", "mehlich3")],
        [SoilReading("p", None, rating="Low"), SoilReading("k", 5, "index", "mehlich3", below_detection=True)],
        [SoilReading("p", 30, "ppm", "mehlich3"), SoilReading("zn", 0.5, "ppm", "mehlich3")],
        [SoilReading("mg", 40, "ppm", "mehlich3"), SoilReading("s", 8, "ppm", "mehlich3")],
    )  # fmt: skip
    for some in readings:
        yield from need(CLOVER, some).all_findings
    yield from need(CORN, index(25, 50), lab_line=LabLine(n=10, p2o5=10, k2o=10, crop="corn silage")).all_findings
    yield from need(CORN, index(25, 50), calibration="tri_state_2020").all_findings
    yield from need(CORN, BUILD_UP, calibration="missouri_build_up", soil=LOAM).all_findings
    yield from need(combine([("alfalfa", 60), ("oats", 40)]), BUILD_UP, calibration="tri_state_1995",
                    soil=LOAM).all_findings  # fmt: skip
    both = combine([("corn", 60), ("soybean", 40)])
    tri_state = [SoilReading("p", 12, "ppm", "mehlich3"), SoilReading("k", 90, "ppm", "mehlich3")]
    yield from need(both, tri_state, calibration="tri_state_2020", soil=LOAM).all_findings
    yield from need(CORN, tri_state, calibration="tri_state_2020").all_findings
    wrong = PlantingFacts(yield_goal=3, yield_unit="ton")
    yield from need(CORN, tri_state, calibration="tri_state_2020", soil=LOAM, planting=wrong).all_findings
    choice = CalibrationChoice("cornell_corn", fallback="north_carolina_food_plot")
    for word in ("Low", "so-so"):
        yield from need(CORN, [SoilReading("p", 5), SoilReading("k", None, rating=word)],
                        calibration=choice).all_findings  # fmt: skip
    mn = {"calibration": "minnesota_red_clover"}
    red, reading = combine([("red_clover", 100)]), SoilReading("k", 60, "ppm", "ammonium_acetate")
    yield from need(red, [reading, SoilReading("p", 8, "index", "olsen")], planting=PlantingFacts(yield_goal=9),
                    **mn).all_findings  # type: ignore[arg-type]  # fmt: skip
    yield from need(red, [SoilReading("k", 60, "mg/dm3", "ammonium_acetate")], **mn).all_findings  # type: ignore[arg-type]
    own = {"corn": Crop("corn", "Own corn", "corn")}  # without a usual yield
    yield from need(combine([("corn", 100)], extra=own), tri_state, calibration="tri_state_2020",
                    soil=LOAM).all_findings  # fmt: skip
    for standing in compare(SoilReading("p", 30, "ppm", "mehlich3")):
        yield from standing.findings


def blends() -> Iterator[Finding]:
    full = [offer("urea"), offer("dap"), offer("muriate_of_potash")]
    boron = FertilizerOffer("b", Fertilizer("b", "0-20-20 with boron", 0, 20, 20, {"b": 1.0}), price_dollars=5)
    zinc = FertilizerOffer("z", Fertilizer("z", "0-20-20 with zinc", 0, 20, 20, {"zn": 1.0}), price_dollars=5)
    whole = BlendLimits(part_bags=False)
    oats, clover = need_of("oats"), need_of("white_clover")
    cases = (
        (oats, full, 0.1, BlendLimits()), (oats, full, 0.1, whole), (oats, full[:2], 0.75, whole),
        (oats, [offer("blend_13_13_13")], 0.75, whole), (oats, [boron, zinc], 1, whole),
        (oats, full, 1, BlendLimits(with_seed=True)), (clover, [*full, boron], 0.75, whole),
        (oats, [offer("triple_superphosphate", None, on_hand_lb=20), offer("map", None)], 1, whole),
        (need_of("oats", 99, 50), full, 1, BlendLimits(near_water=True)), (need_of("apple"), full, 1, whole),
    )  # fmt: skip
    for wanted, shelf, acres, limits in cases:
        yield from best(wanted, shelf, acres=acres, limits=limits).findings
    for wanted in (oats, clover):
        for way in by_hand(wanted, [offer("blend_13_13_13"), offer("muriate_of_potash")], acres=0.75):
            yield from way.findings


GATHERED = {(found.code, tuple(found.values)): found for make in (crops, weather, needs, blends) for found in make()}
HAZARDS = {
    found.code: found
    for found in (
        *(hazard for one in materials().values() for hazard in hazards_of(one)),
        *hazards_of_spreading(near_water=True, slope=True, pto=True),
        Hazard("caution", "salt_with_seed", "kansas_seed_salt"),
    )
}


def codes_in_code() -> set[str]:
    """Every code that a module names where it makes a finding."""
    found: set[str] = set()
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text())):
            called = node.func if isinstance(node, ast.Call) else None
            if isinstance(node, ast.Call) and isinstance(called, ast.Name) and called.id in ("check", "note", "stop"):
                first = node.args[0]
                options = [first.body, first.orelse] if isinstance(first, ast.IfExp) else [first]
                found |= {str(one.value) for one in options if isinstance(one, ast.Constant)}
    return found


@pytest.mark.parametrize("finding", GATHERED.values(), ids=lambda found: found.code)
def test_a_finding_is_said_in_whole_sentences_with_all_its_values(finding: Finding) -> None:
    said = plain(finding_sentence(finding))
    assert said.endswith(".")
    assert said[0].isupper() or said[0].isdigit()
    assert NOTHING not in said
    assert not finding.source or finding.source in sources()


def test_every_code_is_met_in_some_case_and_has_its_sentence() -> None:
    made = codes_in_code()
    assert len(made) > 50
    assert {code for code in made if not (TEMPLATES / "findings" / f"{code}.txt").is_file()} == set()
    assert made - {code for code, _ in GATHERED} == set()


@pytest.mark.parametrize("hazard", HAZARDS.values(), ids=lambda found: found.code)
def test_a_hazard_is_said_in_whole_sentences(hazard: Hazard) -> None:
    assert hazard_sentence(hazard).endswith(".")
    assert hazard.source in sources()
