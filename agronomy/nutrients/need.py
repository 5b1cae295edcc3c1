"""What a planting needs of every nutrient, by the publications chosen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from agronomy.crops import Crop, CropDemand
from agronomy.findings import Finding, Step, check, note, stop
from agronomy.nitrogen import PublishedNitrogen, SeasonNitrogen, season_nitrogen
from agronomy.nutrients.calibrations import Calibration, calibration
from agronomy.nutrients.choose import FALLBACK, CalibrationChoice, covering
from agronomy.nutrients.conversions import estimate
from agronomy.nutrients.kinds import (
    NUTRIENT_NAMES,
    READING_OF,
    Credit,
    LabLine,
    Nutrient,
    NutrientNeed,
    PlantingFacts,
    PlotNeed,
    SoilReading,
)  # fmt: skip
from agronomy.nutrients.minor import minor_needs
from agronomy.nutrients.ratings import rating_of
from agronomy.nutrients.reading import Fitted, fit, refusal
from agronomy.nutrients.rules import Question, Rate, Rule
from agronomy.soil import SoilFacts
from agronomy.sources import Status, source

NO_SOIL, NO_FACTS, _NO_LINE = SoilFacts(), PlantingFacts(), LabLine()
DIFFERS_PERCENT, DIFFERS_LB = 25.0, 10.0
"""Ours and the lab's own line differ largely when by more than both (common practice, `lab_line_rule`)."""
_WORD = "rating"


def need(
    demand: CropDemand, readings: Sequence[SoilReading], *, calibration: str | CalibrationChoice = FALLBACK,
    planting: PlantingFacts = NO_FACTS, soil: SoilFacts = NO_SOIL, volume_weight_g_cm3: float | None = None,
    credits: Sequence[Credit] = (), lab_line: LabLine | None = None,
) -> PlotNeed:  # fmt: skip
    """What a planting needs, lb/acre of N, P2O5, K2O and of others where a reading or a crop asks for them.

    `readings` hold one figure a nutrient at most. `calibration` is a key or what `choose_calibration` gave. Credits
    are taken off, never below 0. A reading that a calibration cannot take leaves the need None with a stop finding.
    Raises `ValueError` for an unknown calibration, unit or crop, and for a nutrient read twice.
    """
    choice = calibration if isinstance(calibration, CalibrationChoice) else CalibrationChoice(calibration)
    by_element = {reading.nutrient: reading for reading in readings}
    if len(by_element) != len(readings):
        raise ValueError("a nutrient may be read once; average several readings of one date first")
    off = _credited(credits)
    line = lab_line or _NO_LINE
    asker = _Asker(demand, planting, soil, volume_weight_g_cm3, choice)
    season = _season_nitrogen(asker)
    p2o5 = asker.of("p2o5", by_element.get("p") or by_element.get("p2o5"))
    k2o = asker.of("k2o", by_element.get("k") or by_element.get("k2o"))
    return PlotNeed(
        _draft_of(season, choice.key).finished(off.get("n", ()), line, season),
        p2o5.finished(off.get("p2o5", ()), line),
        k2o.finished(off.get("k2o", ()), line),
        minor_needs(demand, by_element, soil=soil, credits=off),
        season.legume_share_percent,
        season.limit_lb_per_acre,
        (*choice.findings, *demand.findings, *asker.not_covered()),
    )


def _credited(credits: Sequence[Credit]) -> Mapping[Nutrient, tuple[Credit, ...]]:
    found: dict[Nutrient, tuple[Credit, ...]] = {}
    for credit in credits:
        found[credit.nutrient] = (*found.get(credit.nutrient, ()), credit)
    return found


class _Asker:
    """Asks the calibrations of one planting, nutrient by nutrient."""

    def __init__(
        self, demand: CropDemand, planting: PlantingFacts, soil: SoilFacts, volume_weight: float | None,
        choice: CalibrationChoice,
    ) -> None:  # fmt: skip
        self.demand, self.planting, self.soil = demand, planting, soil
        self.volume_weight, self.choice = volume_weight, choice

    def covered(self, nutrient: Nutrient) -> tuple[tuple[Calibration, str, Crop | None], ...]:
        """The tables that answer for the components, each once, with the first crop it answers for."""
        key = self.choice.per_nutrient.get(nutrient, self.choice.key)
        return _covered(key, self.choice.fallback, self.demand.components, nutrient)

    def not_covered(self) -> tuple[Finding, ...]:
        """That the publication has no table for some crops, and by what they went instead."""
        names = _names_not_covered(self.choice.key, self.choice.fallback, self.demand.components)
        if not names:
            return ()
        known, used = calibration(self.choice.key), calibration(self.choice.fallback)
        return (check("calibration_lacks_crop", source=known.key, calibration=known.title, crops=names,
                      used=used.title),)  # fmt: skip

    def of(self, nutrient: Nutrient, reading: SoilReading | None) -> _Draft:
        """One nutrient: of several components' rates the highest."""
        answers = [self._one(nutrient, reading, *entry) for entry in self.covered(nutrient)]
        best = max(answers, key=lambda found: -1.0 if found.lb_per_acre is None else found.lb_per_acre)
        known = [answer.lb_per_acre for answer in answers if answer.lb_per_acre is not None]
        if len(known) > 1:
            found = note("mix_takes_highest", source=best.source, nutrient=NUTRIENT_NAMES[nutrient],
                         highest=best.lb_per_acre, lowest=min(known))  # fmt: skip
            best.findings += (found,)
        return best

    def _one(
        self, nutrient: Nutrient, reading: SoilReading | None, known: Calibration, published_crop: str,
        crop: Crop | None,
    ) -> _Draft:  # fmt: skip
        rule = known.rules[nutrient]
        fitted, rate = self._rate(rule, nutrient, reading, known, published_crop, crop)
        rating = rate.rating or (rating_of(reading, known, self.volume_weight, self.soil.organic_soil) or "")
        guess, more = self._guess(rule, nutrient, reading, known, published_crop, crop, rate)
        return _Draft(
            nutrient, rate.lb_per_acre, known.key, rule.source, (*fitted.findings, *rate.findings, *more),
            (*fitted.steps, *rate.steps), reading, rating, fitted.is_estimate, guess,
        )  # fmt: skip

    def _rate(
        self, rule: Rule, nutrient: Nutrient, reading: SoilReading | None, known: Calibration, published_crop: str,
        crop: Crop | None,
    ) -> tuple[Fitted, Rate]:  # fmt: skip
        scale = next((s for s in rule.scales if reading and reading.extractant in s.extractants), rule.scales[0])
        name = NUTRIENT_NAMES[nutrient]
        if scale.unit == _WORD:
            fitted = _by_word(reading, scale.extractants, name, known)
        else:
            fitted = fit(reading, scale, nutrient=name, calibration=known.title,
                         volume_weight_g_cm3=self.volume_weight, organic_soil=self.soil.organic_soil)  # fmt: skip
            if fitted.value is None:
                return fitted, Rate(None)
        if fitted.findings and fitted.findings[0].severity == "stop":
            return fitted, Rate(None)
        word = reading.rating if reading else ""
        question = Question(fitted.value, word, self.soil, self.planting, crop, published_crop)
        return fitted, rule.rate(question, scale)

    def _guess(
        self, rule: Rule, nutrient: Nutrient, reading: SoilReading | None, known: Calibration, published_crop: str,
        crop: Crop | None, rate: Rate,
    ) -> tuple[float | None, tuple[Finding, ...]]:  # fmt: skip
        """For a refused extractant, what a conversion would make of it: told, never prescribed."""
        if rate.lb_per_acre is not None or reading is None or reading.value is None or not reading.extractant:
            return None, ()
        if reading.unit not in ("ppm", "mg/kg", "lb/acre") or rule.scales[0].unit == _WORD:
            return None, ()
        ppm = reading.value / (2 if reading.unit == "lb/acre" else 1)
        targets = tuple(key for scale in rule.scales for key in scale.extractants)
        made = estimate(READING_OF[nutrient], ppm, of=reading.extractant, to=targets)
        if made is None:
            return None, ()
        to = next(key for key in targets)
        twin = SoilReading(reading.nutrient, made.ppm, "ppm", to)
        _, again = self._rate(rule, nutrient, twin, known, published_crop, crop)
        if again.lb_per_acre is None:
            return None, ()
        found = note("estimate_by_conversion", source=made.working[0].source, nutrient=NUTRIENT_NAMES[nutrient],
                     ppm=made.ppm, low=made.low, high=made.high, lb_per_acre=again.lb_per_acre)  # fmt: skip
        return again.lb_per_acre, (found,)


def _by_word(
    reading: SoilReading | None, extractants: tuple[str, ...], name: str, known: Calibration
) -> Fitted:  # fmt: skip
    """The lab's rating stands for the figure; an extractant that is named must be the publication's."""
    if reading is None:
        return Fitted(None, findings=(stop("nutrient_not_tested", nutrient=name),))
    if reading.extractant and reading.extractant not in extractants:
        scale = known.rules["p2o5"].scales[0]
        plain = replace(reading, value=reading.value or 0.0, unit="ppm")
        wrong = refusal(plain, replace(scale, extractants=extractants), nutrient=name, calibration=known.title)
        return Fitted(None, findings=(wrong,) if wrong else ())
    return Fitted(None)


@lru_cache(maxsize=512)
def _covered(
    key: str, fallback: str, components: tuple[tuple[Crop, float], ...], nutrient: Nutrient
) -> tuple[tuple[Calibration, str, Crop | None], ...]:  # fmt: skip
    crops: tuple[Crop | None, ...] = tuple(crop for crop, _ in components) or (None,)
    found: dict[tuple[str, str], tuple[Calibration, str, Crop | None]] = {}
    for crop in crops:
        known, named, _ = covering(key, fallback, crop)
        if nutrient not in known.rules:
            known, named, _ = covering(fallback, fallback, crop)
        found.setdefault((known.key, named), (known, named, crop))
    return tuple(found.values())


@lru_cache(maxsize=512)
def _names_not_covered(key: str, fallback: str, components: tuple[tuple[Crop, float], ...]) -> str:
    return ", ".join(crop.name for crop, _ in components if covering(key, fallback, crop)[2])


@lru_cache(maxsize=64)
def _status(key: str, *, estimate: bool) -> Status:
    return "derived" if estimate and source(key).status == "published" else source(key).status


@dataclass(slots=True)
class _Draft:
    """One nutrient before credits and the lab's own line, so that the answer is made once."""

    nutrient: Nutrient
    lb_per_acre: float | None
    calibration: str
    source: str
    findings: tuple[Finding, ...] = ()
    working: tuple[Step, ...] = ()
    reading: SoilReading | None = None
    rating: str = ""
    is_estimate: bool = False
    estimate_lb_per_acre: float | None = None

    def finished(
        self, credits: Sequence[Credit], line: LabLine, season: SeasonNitrogen | None = None
    ) -> NutrientNeed:  # fmt: skip
        """The need less what is there already, never below 0, with the band around what is left."""
        gross, net, working = self.lb_per_acre, self.lb_per_acre, self.working
        low = high = None
        band_source = ""
        if net is not None:
            net, working = _less(net, credits, working)
            low, high, band_source = _band(net, self.calibration, season)
        return NutrientNeed(
            self.nutrient, net, low, high, band_source, gross, self.calibration, self.source,
            _status(self.source, estimate=self.is_estimate), self.is_estimate, self.estimate_lb_per_acre,
            self.rating, self.reading, self.findings + _beside_lab(self.nutrient, gross, line), working,
        )  # fmt: skip


def _less(net: float, credits: Sequence[Credit], working: tuple[Step, ...]) -> tuple[float, tuple[Step, ...]]:
    for credit in credits:
        net = max(0.0, net - credit.lb_per_acre)
        working += (
            Step(f"Less credit: {credit.reason}", f"{credit.lb_per_acre:g} lb/acre", net, "lb/acre", credit.source),
        )
    return net, working


def _band(net: float, key: str, season: SeasonNitrogen | None) -> tuple[float, float, str]:
    known = calibration(key)
    low, high = max(0.0, net - known.band_lb_per_acre), net + known.band_lb_per_acre
    if season is None or season.limit_lb_per_acre is None:
        return low, high, known.band_source
    # What a phosphate brings along may be used up to the limit that protects the legumes, which is never crossed.
    return min(low, season.limit_lb_per_acre), season.limit_lb_per_acre, season.limit_source


def _season_nitrogen(asker: _Asker) -> SeasonNitrogen:
    planting = asker.planting
    return season_nitrogen(
        asker.demand, legume_share_percent=planting.legume_share_percent, inoculated=planting.inoculated,
        established=planting.establishment == "established",
        yield_goal_ton=planting.yield_goal if planting.yield_unit == "ton" else None,
        chosen_lb_per_acre=planting.n_chosen_lb_per_acre, published=_published_n(asker),
    )  # fmt: skip


def _draft_of(season: SeasonNitrogen, key: str) -> _Draft:
    return _Draft("n", season.lb_per_acre, key, season.source, season.findings, season.working)


def _published_n(asker: _Asker) -> PublishedNitrogen | None:
    """N of the publication gone by; a fallback's range holds nobody who did not choose it."""
    key = asker.choice.per_nutrient.get("n", asker.choice.key)
    if asker.choice.reason == "fallback":
        return None
    return _published_n_of(key, asker.demand.components, asker.planting.grazed)


@lru_cache(maxsize=512)
def _published_n_of(
    key: str, components: tuple[tuple[Crop, float], ...], grazed: bool
) -> PublishedNitrogen | None:  # fmt: skip
    known = calibration(key)
    table = known.nitrogen
    if table is None:
        return None
    by_crop: dict[str, float] = {}
    for crop, _ in components:
        named = known.crop_for(crop) or ""
        if named in table.by_crop:
            usual = table.by_crop[named]
            by_crop[crop.key] = table.grazed_by_crop.get(named, usual) if grazed else usual
    return PublishedNitrogen(known.title, table.source, table.low, table.high, by_crop)


def _beside_lab(nutrient: Nutrient, ours: float | None, line: LabLine) -> tuple[Finding, ...]:
    """A finding where the lab's own line is far from ours."""
    printed = line.n if nutrient == "n" else line.p2o5 if nutrient == "p2o5" else line.k2o
    if printed is None or ours is None or not _far_apart(ours, printed):
        return ()
    return (
        check("lab_line_differs", source="lab_line_rule", nutrient=NUTRIENT_NAMES[nutrient], ours=ours, lab=printed,
              lab_crop=line.crop),
    )  # fmt: skip


def _far_apart(ours: float, printed: float) -> bool:
    apart = abs(ours - printed)
    return apart > DIFFERS_LB and apart > DIFFERS_PERCENT / 100 * max(ours, printed)
