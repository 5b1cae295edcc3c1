"""The sentences of lime, said with the values that the calculations really give them."""

from __future__ import annotations

import ast
import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

import agronomy
from agronomy.acidification import season_acidity
from agronomy.comparison import ComparedOffer, ComparedPlot, compare
from agronomy.findings import Finding, Hazard
from agronomy.label_check import Label, check_label
from agronomy.lime_policy import lead_time, target_on_soil
from agronomy.lime_rate import SpreadLime, hazards_of, material_rate, no_value_finding, owed, token_rate
from agronomy.lime_requirement import choose_requirement, requirement
from agronomy.liming_material import FORMS, LimingMaterial, magnesium_advice, material_value
from agronomy.soil import LabLimeLine, SoilFacts
from agronomy.sources import sources
from plots.figures import NOTHING
from plots.templatetags.trade import finding_sentence, hazard_sentence, plain
from tests.agronomy.lime.cases import PELLETS, SAMPLED, STONE, owing

FOLDER = Path(agronomy.__file__).parent
MODULES = [
    FOLDER / "acidification.py", FOLDER / "chemistry.py", FOLDER / "label_check.py", *FOLDER.glob("lime_*.py"),
    *(FOLDER / "lime_requirement").glob("*.py"), *(FOLDER / "liming_material").glob("*.py"),
    *(FOLDER / "comparison").glob("*.py"),
]  # fmt: skip
SIKORA = SoilFacts(soil_ph=5.6, buffer_ph=6.2, buffer_method="sikora", cec_meq_100g=8.0, texture="loam")
LINE = LabLimeLine(5.0, "ton/acre", 6.4, 6.0, "effective", 100.0, "oregon_lime_score")


def chosen(soil: SoilFacts, target: float = 6.4, calibration: str | None = "sikora_oregon_2025") -> Iterator[Finding]:
    made = choose_requirement(soil, target_ph=target, trigger_ph=target - 0.3, calibration=calibration)
    yield from made.findings


def rates() -> Iterator[Finding]:
    bare = SoilFacts(soil_ph=5.0)
    yield from chosen(replace(SIKORA, lab_line=LINE))
    yield from chosen(replace(SIKORA, buffer_ph=7.1, cec_meq_100g=3.0))
    yield from chosen(replace(SIKORA, buffer_ph=4.5))
    yield from chosen(replace(SIKORA, buffer_method="woodruff", buffer_ph=6.5))
    yield from chosen(replace(SIKORA, ph_method="cacl2"))
    yield from chosen(replace(SIKORA, ph_method="salt"))
    yield from chosen(SIKORA, 6.2)
    yield from chosen(replace(SIKORA, soil_ph=5.0), 5.4)
    yield from chosen(bare, calibration=None)
    yield from chosen(SoilFacts())
    yield from chosen(replace(bare, exchangeable_acidity_meq_100g=1.0, texture="loam"), 6.5, "penn_state_turf")
    yield from chosen(SoilFacts(soil_ph=4.2, cec_meq_100g=20.0), 6.5, None)


def by_each() -> Iterator[Finding]:
    bare = SoilFacts(soil_ph=5.0)
    asked = [
        ("sikora_oregon_2025", replace(SIKORA, buffer_ph=None), 6.4), ("sikora_oregon_2025", SIKORA, 5.9),
        ("sikora_oregon_2025", replace(SIKORA, buffer_ph=5.0), 6.8), ("sikora_oregon_2025", SIKORA, 7.5),
        ("sikora_oregon_2025", replace(SIKORA, buffer_ph=7.0), 6.4),
        ("sikora_kentucky", replace(bare, soil_ph=4.0), 6.4),
        ("sikora_kentucky", replace(SIKORA, soil_ph=6.3, buffer_ph=5.5), 6.4),
        ("sikora_kentucky", replace(SIKORA, soil_ph=4.2), 6.4),
        ("mehlich_north_carolina", replace(bare, buffer_ph=6.0, buffer_method="mehlich"), 6.8),
        ("modified_mehlich_penn_state", bare, 6.5),
        ("modified_mehlich_penn_state", replace(bare, exchangeable_acidity_meq_100g=60.0), 6.5),
        ("reactive_aluminium_vermont", bare, 6.5), ("georgia_lbc", bare, 6.5),
        ("georgia_lbc", replace(bare, lbc_30min_mg_kg_ph=300, lbc_eq_mg_kg_ph=600), 6.5),
        ("cec_estimate", bare, 6.5), ("texture_estimate", bare, 6.5),
    ]  # fmt: skip
    for key, soil, target in asked:
        yield from requirement(soil, calibration=key, target_ph=target).findings


def materials() -> Iterator[Finding]:
    for kind, key in (("cce", None), ("effective", "iowa_ecce"), ("effective", None)):
        yield from material_value(STONE, reference_kind=kind, reference_scheme=key).findings
    hydrated = LimingMaterial("h", "Hydrated lime", "hydrated", 130.0)
    unknown = LimingMaterial("u", "Unsieved stone", "quarry", 90.0)
    yield from material_value(hydrated, reference_kind="effective", reference_scheme="iowa_ecce").findings
    yield from material_value(unknown, reference_kind="cce", reference_scheme=None).findings
    yield no_value_finding(replace(STONE, form="gypsum"))
    advice = magnesium_advice(replace(STONE, form="dolomitic"), magnesium_ppm=90)
    token = token_rate(300, full_lb_per_acre=4000, form="pelletized")
    yield from (one for one in (advice, token) if one is not None)


def spreading() -> Iterator[Finding]:
    for policy, new in (("full", False), ("staged", False), ("staged", True)):
        rate = material_rate(owing(), material=STONE, incorporated=True, policy=policy, establishing_perennial=new)
        assert rate is not None
        yield from rate.findings
    odd = LimingMaterial("o", "Odd lime", "quarry", 90.0)
    asked = choose_requirement(SIKORA, target_ph=6.4, trigger_ph=6.1, calibration="sikora_oregon_2025")
    dressing = SpreadLime("x", dt.date(2026, 4, 1), 1000.0, odd)
    yield from owed(asked, spread=[dressing], sample_date=SAMPLED, depth_in=6).findings
    yield from target_on_soil(7.0, is_light=True, is_default=False)[1]
    for day in (dt.date(2026, 2, 1), dt.date(2026, 6, 1), dt.date(2026, 8, 20)):
        yield from lead_time(dt.date(2026, 9, 1), spread_on=day).findings
    north_carolina = SoilFacts(soil_ph=5.0, buffer_ph=6.3, buffer_method="mehlich")
    asked = requirement(north_carolina, calibration="mehlich_north_carolina", target_ph=6.0)
    yield from owing(asked, depth_in=3.0).findings


def labels() -> Iterator[Finding]:
    for label in (
        Label("CaCO3", 50, 2.5, "gal", claims_lb_lime=2000, use_packages_per_acre=2),
        Label("CaCO3", 90, 50, claims_lb_lime=40), Label("Ca(NO3)2", 60, 50), Label("CaCO3", 80, 2.5, "gal"),
    ):  # fmt: skip
        yield from check_label(label, need_lb_per_acre=4000, acres=1).findings


def acidity() -> Iterator[Finding]:
    yield from season_acidity([("urea", 60), ("manure", 40), ("", 20), ("seaweed", 5)]).findings


def offer(
    key: str, material: LimingMaterial, price: str, package: str = "bag", lb: str = "50", on_hand_lb: float = 0.0
) -> ComparedOffer:
    called = replace(material, key=key, name=key.capitalize())
    return ComparedOffer(key, called, "at_source", package, Decimal(lb), Decimal(price), on_hand_lb=on_hand_lb)


def comparisons() -> Iterator[Finding]:
    near, far = (ComparedPlot(key, 1.5, owing(), vehicle, months) for key, vehicle, months in
                 (("A", "lime_truck", frozenset({8, 9})), ("B", "on_foot", frozenset({3, 4}))))  # fmt: skip
    truck = offer("stone", STONE, "700", "truckload", "44000")
    pellets, cheap = offer("pellets", PELLETS, "6"), offer("cheap pellets", PELLETS, "5")
    stock = offer("stock", PELLETS, "6", on_hand_lb=50_000)
    weak = offer("weak", replace(PELLETS, cce_percent=40.0), "4")
    shelves = (
        [truck], [truck, pellets], [pellets, cheap], [pellets, stock], [pellets, weak], [truck, pellets, weak],
        [offer("burnt", LimingMaterial("b", "Burnt", "burnt", 170.0), "9"),
         offer("salt", replace(STONE, form="salt"), "3"),
         offer("bare", LimingMaterial("n", "No figures", "quarry"), "3", "bulk", "2000")],
    )  # fmt: skip
    other = ComparedPlot("C", 0.2, owing(), "lime_truck", frozenset({3}))
    for plots in ([near], [near, far], [near, other], [other]):
        for shelf in shelves:
            made = compare(plots, shelf)
            yield from (choice.why for choice in made.cheapest)
            yield from (one for line in made.lines for one in line.findings)


MAKERS = (rates, by_each, materials, spreading, labels, acidity, comparisons)
GATHERED = {(found.code, found.severity, tuple(found.values)): found for make in MAKERS for found in make()}
HAZARDS = {one.code: one for form in FORMS for one in hazards_of(replace(STONE, form=form))}


def codes_in_code() -> set[str]:
    """Every code that a module names where it makes a finding, or hands on to be made one."""
    found: set[str] = set()
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text())):
            named: ast.expr | None = None
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("check", "note", "stop"):
                named = node.args[0]
            elif isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "code":
                named = node.value
            options = [named.body, named.orelse] if isinstance(named, ast.IfExp) else [named]
            found |= {str(one.value) for one in options if isinstance(one, ast.Constant)}
    return found


@pytest.mark.parametrize("finding", GATHERED.values(), ids=lambda found: found.code)
def test_a_finding_is_said_in_whole_sentences_with_all_its_values(finding: Finding) -> None:
    said = plain(finding_sentence(finding))
    assert said.endswith(".")
    assert said[0].isupper() or said[0].isdigit() or said.startswith("pH ")
    assert NOTHING not in said, "a value that the template asks for is not given"
    assert "{" not in said and "None" not in said
    assert not finding.source or finding.source in sources()


def test_every_code_of_lime_is_met_in_some_case() -> None:
    made = codes_in_code()
    assert len(made) > 60
    assert made - {code for code, _, _ in GATHERED} == set()


@pytest.mark.parametrize("hazard", HAZARDS.values(), ids=lambda found: found.code)
def test_a_hazard_is_said_in_whole_sentences(hazard: Hazard) -> None:
    assert hazard_sentence(hazard).endswith(".")
    assert hazard.source in sources()


def test_every_lime_has_its_dust_and_caustic_lime_its_danger() -> None:
    by_form = {form: {one.code: one.signal for one in hazards_of(replace(STONE, form=form))} for form in FORMS}
    assert all("lime_dust" in codes for codes in by_form.values())
    caustic = {form for form, codes in by_form.items() if codes.get("caustic_lime") == "danger"}
    assert caustic == {"burnt", "hydrated", "wood_ash"}
    assert {form for form, codes in by_form.items() if "quicklime_and_water" in codes} == {"burnt"}
