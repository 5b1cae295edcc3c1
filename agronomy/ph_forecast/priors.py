"""Starting values from what is known of the ground, and how far a plot may lie from them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from agronomy.ph_forecast.inputs import SiteFacts
from agronomy.ph_forecast.model import Array
from agronomy.sources import load_table

_TABLE = load_table("ph_forecast")
POOLED = 5
"""The parameters that plots of a property share: all but the pH at the start."""

_LB_ACRE_PER_T_HA = 892.18
_REGIONS = {
    "warm_humid": (
        "warm_humid", "warm humid", "south-east", "southeast", "south east", "deep south",
        "ultisol", "alabama", "georgia", "florida",
        "mississippi", "louisiana", "south carolina", "north carolina", "tennessee", "arkansas", "coastal plain",
        "piedmont", "tropic", "subtropic",
    ),
    "prairie": (
        "prairie", "iowa", "illinois", "minnesota", "nebraska", "kansas", "missouri", "corn belt", "dakota",
        "mollisol", "chernozem",
    ),
    "dry": (
        "dry", "arid", "semi-arid", "semiarid", "montana", "wyoming", "mediterranean", "steppe", "great plains",
    ),
    "cool_humid": (
        "cool_humid", "cool humid", "temperate", "england", "wales", "scotland", "ireland", "britain", "uk",
        "europe", "oregon", "washington", "new york", "pennsylvania", "ohio", "michigan", "wisconsin", "vermont",
        "maine", "new england", "north-east", "northeast", "indiana", "kentucky", "virginia", "lake",
    ),
}


def region_key(region: str | None) -> str:
    """The climate group a free-worded region falls in, by its longest known word; `default` where none is known."""
    words = (region or "").strip().lower().replace("_", " ")
    hits = [
        (len(name), key)
        for key, names in _REGIONS.items()
        for name in names
        if re.search(rf"\b{re.escape(name.replace('_', ' '))}", words)
    ]
    return max(hits)[1] if hits else "default"


def buffer_lb_per_acre(site: SiteFacts) -> float:
    """Lime for one pH unit of the plot's layer, lb CaCO3/acre: the geometric mean of what texture (by two tables),
    carbon with clay, and CEC say, each where it is known."""
    table = _TABLE["buffer"]
    warm = bool(_TABLE["region"][region_key(site.region)]["warm_humid"])
    votes: list[float] = []
    texture = table["texture"].get(site.texture) if site.texture else None
    if texture:
        ton = texture["usda_ton"][0 if warm else 1]
        effective = table["ordinary_stone_effective"]
        usda = ton * 2000.0 * effective * table["reference_depth_in"] / 7.0
        british = texture["uk_t_ha"] * effective * _LB_ACRE_PER_T_HA * table["reference_depth_in"] / 7.874
        votes.append(math.sqrt(usda * british))
    carbon = site.carbon_percent
    clay = site.clay_percent if site.clay_percent is not None else (texture["clay"] if texture else 18.0)
    if carbon is not None:
        votes.append(1000.0 * (table["carbon"] * carbon + table["clay"] * clay) * table["field_allowance"])
    if site.cec_meq_100g:
        votes.append(table["cec_lb_per_meq"] * site.cec_meq_100g)
    at_reference = math.exp(sum(map(math.log, votes)) / len(votes)) if votes else float(table["default_lb"])
    return at_reference * site.depth_in / float(table["reference_depth_in"])


@dataclass(frozen=True, slots=True)
class Base:
    """A plot's starting values (6, order of `PARAMETERS`) and the variances of what is its own (6)."""

    mean: Array
    own_variance: Array


def base(site: SiteFacts, *, first_ph: float, offset: float, sieved: bool, limed_before_lb: float) -> Base:
    """Starting values of one plot on its own pH scale (`offset` from pH in water).

    `first_ph` is its first test, `limed_before_lb` the lime per acre put on before it, `sieved` whether its lime
    came with a sieve analysis.
    """
    region = _TABLE["region"][region_key(site.region)]
    buffer = buffer_lb_per_acre(site)
    loss = _TABLE["loss"]["lb_per_acre_per_ph_year"] * region["loss"] / buffer
    weight = _TABLE["native"]["weight_of_first_test"]
    before = max(first_ph - min(0.7 * limed_before_lb / buffer, 2.0), 4.0 + offset)
    native = (1.0 - weight) * (region["native"] + offset) + weight * before
    mean = np.array([before, math.log(buffer), math.log(loss), native, 0.0, _TABLE["nitrogen"]["log_share"]])
    own = _own_variance(site, sieved)
    own[3] += (_TABLE["native"]["weight_sd"] * (before - region["native"] - offset)) ** 2
    return Base(mean, own)


def _own_variance(site: SiteFacts, sieved: bool) -> Array:
    spread = _TABLE["spread"]
    own = np.array([
        1.0, spread["log_buffer"], spread["log_loss"], spread["native"], spread["log_speed"],
        spread["log_nitrogen"],
    ]) ** 2
    table = _TABLE["buffer"]
    if site.texture is None and site.carbon_percent is None and not site.cec_meq_100g:
        own[1] += table["log_sd_without_texture"] ** 2 - table["log_sd"] ** 2
    if not sieved:
        reaction = _TABLE["reaction"]
        own[4] += 0.25 * (reaction["log_speed_sd_typical"] ** 2 - reaction["log_speed_sd_sieved"] ** 2)
    return own


def shared_variance() -> Array:
    """Variances (5) of what a property's plots have in common, before any of its tests is known."""
    return np.array([
        _TABLE["buffer"]["log_sd"], _TABLE["loss"]["log_sd"], _TABLE["native"]["sd"],
        _TABLE["reaction"]["log_speed_sd_sieved"], _TABLE["nitrogen"]["log_sd"],
    ]) ** 2
