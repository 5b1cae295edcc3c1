"""The catalogue of crops, and what a mix of them asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.crops import GROUPS, Crop, combine, crop, crop_name, crops
from agronomy.sources import STATUSES, load_table, sources

FIGURES = {
    "target_ph", "floor_ph", "upper_ph", "n_lb_per_acre", "n_low_lb_per_acre", "n_high_lb_per_acre",
    "n_single_dose_lb_per_acre", "n_credit_low_lb_per_acre", "n_credit_high_lb_per_acre", "yield_per_acre",
    "removal_p2o5_lb_per_unit", "removal_k2o_lb_per_unit", "boron_lb_per_acre",
}  # fmt: skip
keys = st.sampled_from(sorted(crops()))
mixes = st.lists(st.tuples(keys, st.integers(1, 100)), min_size=1, max_size=5, unique_by=lambda part: part[0])


def test_the_catalogue_has_the_crops_of_food_plots() -> None:
    assert len(crops()) >= 30
    wanted = (
        "white_clover", "red_clover", "crimson_clover", "alfalfa", "winter_pea", "cowpea", "soybean", "oats",
        "winter_wheat", "cereal_rye", "corn", "grain_sorghum", "browntop_millet", "turnip", "forage_radish",
        "sunflower", "buckwheat", "chicory", "chufa", "sugar_beet", "annual_ryegrass", "switchgrass", "apple",
    )  # fmt: skip
    assert set(wanted) <= set(crops())
    assert {one.group for one in crops().values()} == set(GROUPS)


def test_every_figure_in_the_table_names_a_source() -> None:
    for key, raw in load_table("crops")["crops"].items():
        for name in FIGURES & raw.keys():
            _, where = raw[name]
            assert where in sources(), f"{key} {name}"
            assert crop(key).source_of(name) == where
            assert crop(key).status_of(name) in STATUSES
        assert {"target_ph", "floor_ph", "upper_ph"} <= raw.keys()


def test_figures_are_all_fields_of_a_crop() -> None:
    assert {field.name for field in fields(Crop)} >= FIGURES


@given(mixes)
def test_a_mix_goes_by_its_most_demanding_species(parts: Sequence[tuple[str, int]]) -> None:
    demand = combine(parts)
    species = [crop(key) for key, _ in parts]
    assert demand.target_ph == max(one.target_ph for one in species) == crop(demand.target_crop).target_ph
    assert demand.floor_ph == max(one.floor_ph for one in species) == crop(demand.floor_crop).floor_ph
    assert demand.upper_ph == min(one.upper_ph for one in species if one.upper_ph)
    assert demand.ph_critical == any(one.ph_critical for one in species)
    shares = [share for _, share in demand.components]
    assert shares == sorted(shares, reverse=True)
    clash = demand.upper_ph is not None and demand.upper_ph < demand.target_ph
    assert [found.code for found in demand.findings] == ["mix_ph_conflict"] * clash


@given(mixes, st.floats(0.1, 1))
def test_shares_count_by_their_proportion(parts: Sequence[tuple[str, int]], factor: float) -> None:
    scaled = [(key, share * factor) for key, share in parts]
    assert combine(scaled).legume_share_percent == pytest.approx(combine(parts).legume_share_percent)


def test_ground_without_a_crop_goes_by_the_default_target() -> None:
    demand = combine([])
    assert (demand.target_ph, demand.floor_ph, demand.upper_ph) == (6.2, 6.0, None)
    assert demand.lead is None
    assert demand.target_source == "crop_ph_default"
    assert sources()[demand.target_source].status == "common practice"


def test_a_managers_own_crop_stands_before_the_catalogues() -> None:
    own = Crop("oats", "Black oats", "cereal", target_ph=5.6, floor_ph=5.0, n_lb_per_acre=35)
    demand = combine([("oats", 60), ("crimson_clover", 40)], extra={"oats": own})
    assert demand.crop_keys == ("oats", "crimson_clover")
    assert demand.components[0][0] is own
    assert own.source_of("target_ph") == "manager_own_figure"
    assert crop_name("oats", extra={"oats": own}) == "Black oats"
    assert crop_name("gone_crop") == "gone crop"


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ([("moss", 100)], "no crop 'moss'"),
        ([("oats", 0)], "allowed over 0 to 100"),
        ([("oats", 101)], "allowed over 0 to 100"),
        ([("oats", float("nan"))], "allowed over 0 to 100"),
        ([("oats", 50), ("oats", 50)], "once"),
    ],
)
def test_a_mix_that_cannot_be_is_refused(parts: list[tuple[str, float]], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        combine(parts)


@pytest.mark.parametrize(
    ("figures", "told"),
    [
        ({"target_ph": 9.0}, "4 to 8"),
        ({"target_ph": 5.5, "floor_ph": 6.0}, "above target"),
        ({"upper_ph": 5.5}, "under target"),
        ({"n_lb_per_acre": 301}, "0 to 300"),
        ({"group": "weed"}, "none of"),
        ({"key": ""}, "key and a name"),
    ],
)
def test_a_crop_out_of_range_is_refused(figures: dict[str, object], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        Crop(**({"key": "own", "name": "Own", "group": "forb"} | figures))  # type: ignore[arg-type]
