"""The depth a rate holds for: printed inside the publication's range, in proportion outside it, doubt told."""

from __future__ import annotations

import datetime as dt

import pytest

from agronomy.lime_rate import Owed, owed
from agronomy.lime_requirement import requirement
from agronomy.soil import SoilFacts

# North Carolina's own example: buffer 6.3, pH 5.0, target 6.0 is 0.75 ton/acre, for 6 to 8 inches.
SOIL = SoilFacts(soil_ph=5.0, buffer_ph=6.3, buffer_method="mehlich")


def at(
    depth_in: float, *, soil: SoilFacts = SOIL, calibration: str = "mehlich_north_carolina", target: float = 6.0
) -> Owed:
    asked = requirement(soil, calibration=calibration, target_ph=target)
    return owed(asked, spread=(), sample_date=dt.date(2026, 9, 1), depth_in=depth_in)


@pytest.mark.parametrize("depth_in", [6.0, 7.0, 8.0])
def test_inside_the_range_the_printed_rate_stands(depth_in: float) -> None:
    found = at(depth_in)
    assert found.amount == pytest.approx(0.75)
    assert not [one for one in found.findings if one.code == "table_depth_not_sure"]


@pytest.mark.parametrize(("depth_in", "basis"), [(3.0, 6.0), (10.0, 8.0)])
def test_outside_it_goes_from_the_nearest_end_and_says_so(depth_in: float, basis: float) -> None:
    found = at(depth_in)
    assert found.amount == pytest.approx(0.75 * depth_in / basis)
    (told,) = [one for one in found.findings if one.code == "table_depth_not_sure"]
    assert told.severity == "check"
    assert dict(told.values) == {"table_depth_in": basis, "depth_in": depth_in}


def test_a_depth_that_is_printed_is_scaled_without_doubt() -> None:
    """Oregon's 2.8 ton/acre is stated for 6 inches: 1.4 for 3."""
    soil = SoilFacts(soil_ph=5.6, buffer_ph=6.2, buffer_method="sikora")
    found = at(3.0, soil=soil, calibration="sikora_oregon_2025", target=6.4)
    assert found.amount == pytest.approx(1.4)
    assert not [one for one in found.findings if one.code == "table_depth_not_sure"]
