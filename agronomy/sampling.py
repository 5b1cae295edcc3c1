"""How many cores to pull from a plot, how deep, and how many composites: with the publication behind each figure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from agronomy.findings import Finding, check, note
from agronomy.sources import load_table

TILLAGES = ("tilled", "no_till", "sod")
DEFAULT_PUBLICATION = "penn_state"
FEWEST_CORES = 8
_FILLS_GAPS = "penn_state"  # cores and acres where the chosen publication names none
_LARGEST_PLOT_ACRES = 2000


@dataclass(frozen=True, slots=True)
class SamplingRule:
    """One publication's advice. Cores a composite, acres a composite and depths in inches by tillage, where named."""

    key: str
    title: str
    source: str
    cores: tuple[int, int] | None
    acres_a_composite: float | None
    acres_a_composite_rolling: float | None
    depth_in: Mapping[str, float]
    depth_note: Mapping[str, str]
    surface_check_in: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class SamplingAdvice:
    """What to pull from one plot. Each figure has its own source, because one publication seldom names all.

    `cores` is for each of the `composites`; `surface_check_in` asks for a second, shallow sample.
    """

    cores: int
    cores_low: int
    cores_high: int
    cores_source: str
    composites: int
    acres_a_composite: float
    composites_source: str
    depth_in: float
    depth_note: str
    depth_source: str
    surface_check_in: float | None
    findings: tuple[Finding, ...]


@cache
def sampling_rules() -> Mapping[str, SamplingRule]:
    """Every publication's advice by its key."""
    rules = {}
    for raw in load_table("sampling")["advice"]:
        cores = raw.get("cores")
        rules[raw["key"]] = SamplingRule(
            key=raw["key"],
            title=raw["title"],
            source=raw["source"],
            cores=(cores[0], cores[1]) if cores else None,
            acres_a_composite=raw.get("acres_a_composite"),
            acres_a_composite_rolling=raw.get("acres_a_composite_rolling"),
            depth_in=raw["depth_in"],
            depth_note=raw["depth_note"],
            surface_check_in=raw["surface_check_in"],
        )
    return MappingProxyType(rules)


def sampling_advice(
    acres: float, *, tillage: str, publication: str = DEFAULT_PUBLICATION, rolling: bool = False,
    depth_limed_in: float | None = None, depth_last_in: float | None = None,
) -> SamplingAdvice:  # fmt: skip
    """Cores, composites and depth for a plot of some acres (over 0 to 2,000), by its tillage and one publication.

    What the publication does not name comes from Penn State, by name. The depth is the publication's: findings
    say where it is not the depth limed or not that of the last sample. Raises `ValueError` for an unknown tillage
    or publication, naming those allowed.
    """
    if not 0 < acres <= _LARGEST_PLOT_ACRES:
        raise ValueError(f"{acres} acres are not over 0 and at most {_LARGEST_PLOT_ACRES}")
    if tillage not in TILLAGES:
        raise ValueError(f"{tillage!r} is no tillage; allowed are {', '.join(TILLAGES)}")
    if publication not in sampling_rules():
        raise ValueError(f"{publication!r} is no sampling advice; allowed are {', '.join(sampling_rules())}")
    rule, spare = sampling_rules()[publication], sampling_rules()[_FILLS_GAPS]
    low, high = rule.cores or spare.cores or (FEWEST_CORES, FEWEST_CORES)
    per_composite, area_source = _acres_a_composite(rule, spare, rolling)
    depth_rule = rule if tillage in rule.depth_in else spare
    depth = depth_rule.depth_in[tillage]
    surface = depth_rule.surface_check_in.get(tillage)
    return SamplingAdvice(
        cores=_cores(acres, low, high),
        cores_low=low,
        cores_high=high,
        cores_source=rule.source if rule.cores else spare.source,
        composites=math.ceil(acres / per_composite - 1e-9),
        acres_a_composite=per_composite,
        composites_source=area_source,
        depth_in=depth,
        depth_note=depth_rule.depth_note.get(tillage, ""),
        depth_source=depth_rule.source,
        surface_check_in=surface,
        findings=_findings(depth, surface, depth_rule.source, depth_limed_in, depth_last_in),
    )


def core_count_findings(cores_taken: int, *, advice: SamplingAdvice) -> tuple[Finding, ...]:
    """Whether a composite rests on enough cores for its figures to be trusted."""
    if cores_taken < 1:
        raise ValueError(f"{cores_taken} cores are not 1 or more")
    if cores_taken >= min(advice.cores_low, FEWEST_CORES):
        return ()
    return (check("too_few_cores", source=advice.cores_source, cores=cores_taken, advised=advice.cores_low),)


def _cores(acres: float, low: int, high: int) -> int:
    """The low count on plots up to an acre, the high one from five acres on, between them by size."""
    share = min(1.0, max(0.0, (acres - 1) / 4))
    return math.floor(low + share * (high - low) + 0.5)


def _acres_a_composite(rule: SamplingRule, spare: SamplingRule, rolling: bool) -> tuple[float, str]:
    if rolling and rule.acres_a_composite_rolling:
        return rule.acres_a_composite_rolling, rule.source
    if rolling:
        minnesota = sampling_rules()["minnesota"]
        return minnesota.acres_a_composite_rolling or 5.0, minnesota.source
    if rule.acres_a_composite:
        return rule.acres_a_composite, rule.source
    return spare.acres_a_composite or 20.0, spare.source


def _findings(
    depth: float, surface: float | None, source: str, limed: float | None, last: float | None
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    if last is not None and abs(last - depth) > 1:
        found.append(check("sample_depth_changed", source=source, depth_in=depth, last_in=last))
    if limed is not None and abs(limed - depth) > 1:
        found.append(note("sample_depth_not_limed_depth", source=source, depth_in=depth, limed_in=limed))
    if surface is not None:
        found.append(note("surface_sample_too", source=source, surface_in=surface))
    return tuple(found)
