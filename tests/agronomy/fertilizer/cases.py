"""Plots, needs and offers that the fertilizer tests share."""

from __future__ import annotations

from hypothesis import strategies as st

from agronomy.blend import FertilizerOffer
from agronomy.crops import combine
from agronomy.fertilizer_material import material
from agronomy.nutrients import PlantingFacts, PlotNeed, SoilReading, need

INOCULATED = PlantingFacts(inoculated=True)


def index(p: float, k: float) -> tuple[SoilReading, SoilReading]:
    return SoilReading("p", p, "index", "mehlich3"), SoilReading("k", k, "index", "mehlich3")


def need_of(crop: str, p: float = 25, k: float = 50, **facts: object) -> PlotNeed:
    planting = PlantingFacts(inoculated=True, **facts)  # type: ignore[arg-type]
    return need(combine([(crop, 100)]), index(p, k), planting=planting)


def offer(key: str, price: float | None = 30.0, **terms: object) -> FertilizerOffer:
    return FertilizerOffer(key, material(key), price_dollars=price, **terms)  # type: ignore[arg-type]


SHELF = ("urea", "dap", "map", "triple_superphosphate", "muriate_of_potash", "blend_13_13_13", "ammonium_sulfate")
prices = st.floats(8, 60).map(lambda dollars: round(dollars, 2))
indexes = st.floats(0, 90).map(lambda value: round(value, 1))
acres = st.floats(0.3, 3).map(lambda value: round(value, 2))


@st.composite
def offers(draw: st.DrawFn, least: int = 2, most: int = 4) -> tuple[FertilizerOffer, ...]:
    keys = draw(st.lists(st.sampled_from(SHELF), min_size=least, max_size=most, unique=True))
    return tuple(offer(key, draw(prices)) for key in keys)
