"""Cores, composites and depth, each with its publication."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.sampling import TILLAGES, core_count_findings, sampling_advice, sampling_rules
from agronomy.sources import source


def codes(findings: object) -> list[str]:
    return [finding.code for finding in findings]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("publication", "cores", "depths"),
    [
        ("penn_state", (15, 20), {"tilled": 6.0, "no_till": 6.0, "sod": 4.0}),
        ("minnesota", (15, 30), {"tilled": 6.0, "sod": 3.0}),
        ("mississippi", (20, 25), {"tilled": 6.0}),
        ("oklahoma", (15, 20), {"tilled": 6.0}),
        ("tennessee", (8, 10), {"tilled": 6.0, "sod": 6.0}),
        ("kentucky", None, {"tilled": 6.0, "no_till": 4.0}),
        ("iowa", None, {"tilled": 6.0, "no_till": 3.0, "sod": 3.0}),
    ],
)
def test_each_publication_is_given_as_it_stands(
    publication: str, cores: tuple[int, int] | None, depths: dict[str, float]
) -> None:
    rule = sampling_rules()[publication]
    for tillage, depth in depths.items():
        advice = sampling_advice(1, tillage=tillage, publication=publication)
        assert (advice.depth_in, advice.depth_source) == (depth, rule.source)
        if cores:
            assert ((advice.cores_low, advice.cores_high), advice.cores_source) == (cores, rule.source)
        else:
            assert advice.cores_source == "penn_state_sampling"


def test_what_a_publication_does_not_name_is_filled_by_name() -> None:
    advice = sampling_advice(2, tillage="tilled", publication="tri_state")
    assert (advice.cores_low, advice.cores_high, advice.cores_source) == (10, 15, "tri_state_sampling")
    assert (advice.depth_in, advice.depth_source) == (6.0, "penn_state_sampling")


@given(
    acres=st.floats(0.01, 2000), tillage=st.sampled_from(TILLAGES), rolling=st.booleans(),
    publication=st.sampled_from(sorted(sampling_rules())),
)  # fmt: skip
def test_every_advice_is_complete_and_every_figure_has_a_source(
    acres: float, tillage: str, rolling: bool, publication: str
) -> None:
    advice = sampling_advice(acres, tillage=tillage, rolling=rolling, publication=publication)
    assert advice.cores_low <= advice.cores <= advice.cores_high
    assert advice.composites == max(1, math.ceil(acres / advice.acres_a_composite - 1e-9))
    for key in (advice.cores_source, advice.composites_source, advice.depth_source):
        assert source(key).citation
    bigger = sampling_advice(min(2000, acres * 2), tillage=tillage, rolling=rolling, publication=publication)
    assert bigger.cores >= advice.cores
    assert bigger.composites >= advice.composites


def test_rolling_ground_takes_a_composite_every_five_acres() -> None:
    assert sampling_advice(20, tillage="tilled").composites == 1
    rolling = sampling_advice(20, tillage="tilled", rolling=True)
    assert (rolling.composites, rolling.composites_source) == (4, "minnesota_sampling")
    assert sampling_advice(20.1, tillage="tilled").composites == 2


def test_no_till_ground_is_looked_at_near_the_surface_too() -> None:
    advice = sampling_advice(1, tillage="no_till")
    assert advice.surface_check_in == 2.0
    assert codes(advice.findings) == ["surface_sample_too"]
    assert sampling_advice(1, tillage="no_till", publication="new_york").surface_check_in == 1.0
    assert sampling_advice(1, tillage="tilled").surface_check_in is None


def test_a_depth_unlike_the_last_or_the_limed_one_is_said() -> None:
    plain = {"tillage": "tilled", "publication": "penn_state"}
    assert codes(sampling_advice(1, depth_last_in=3, **plain).findings) == ["sample_depth_changed"]
    assert codes(sampling_advice(1, depth_limed_in=4, **plain).findings) == ["sample_depth_not_limed_depth"]
    assert sampling_advice(1, depth_last_in=6.5, depth_limed_in=6, **plain).findings == ()


def test_too_few_cores_are_said() -> None:
    advice = sampling_advice(1, tillage="tilled")
    assert core_count_findings(8, advice=advice) == ()
    (finding,) = core_count_findings(5, advice=advice)
    assert finding.values == {"cores": 5, "advised": 15}
    with pytest.raises(ValueError, match="not 1 or more"):
        core_count_findings(0, advice=advice)


@pytest.mark.parametrize(
    ("acres", "tillage", "publication", "said"),
    [
        (0, "tilled", "iowa", "not over 0"),
        (2001, "tilled", "iowa", "at most 2000"),
        (math.nan, "tilled", "iowa", "not over 0"),
        (1, "strip", "iowa", "allowed are tilled, no_till, sod"),
        (1, "sod", "nobody", "no sampling advice; allowed are penn_state"),
    ],
)
def test_what_is_out_of_range_is_refused(acres: float, tillage: str, publication: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        sampling_advice(acres, tillage=tillage, publication=publication)
