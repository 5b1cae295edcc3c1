"""Each state's way from CCE and sieves to an effective value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from types import MappingProxyType

from agronomy.findings import Finding, Step, check
from agronomy.liming_material.material import SchemeValue, checked_cce, checked_moisture
from agronomy.liming_material.sieves import checked_sieves, passing_at
from agronomy.sources import Status, load_table
from agronomy.sources import source as source_of


@dataclass(frozen=True, slots=True)
class Scheme:
    """One state's way to an effective value. `factors` has one more entry than `meshes`; percent.

    `moisture` tells that a stated value already counts it; `per_ton` is the value in lb/ton of a wholly effective
    material where the state prints it so. Without `factors` only a label's own statement can be used.
    """

    key: str
    name: str
    source: str
    status: Status
    states: tuple[str, ...]
    meshes: tuple[float, ...]
    factors: tuple[float, ...]
    moisture: bool
    per_ton: float | None


def _scheme(key: str, raw: Mapping[str, object]) -> Scheme:
    meshes, factors, per_ton = raw.get("meshes", []), raw.get("factors", []), raw.get("per_ton")
    assert isinstance(meshes, list) and isinstance(factors, list)
    if factors and len(factors) != len(meshes) + 1:
        raise ValueError(f"scheme {key}: {len(factors)} factors for {len(meshes)} sieves; allowed {len(meshes) + 1}")
    named = str(raw["source"])
    states = raw.get("states", [])
    assert isinstance(states, list) and (per_ton is None or isinstance(per_ton, (int, float)))
    return Scheme(
        key, str(raw["name"]), named, source_of(named).status, tuple(states), tuple(map(float, meshes)),
        tuple(map(float, factors)), bool(raw.get("moisture", False)), None if per_ton is None else float(per_ton),
    )  # fmt: skip


@cache
def schemes() -> Mapping[str, Scheme]:
    """Every scheme by key."""
    raw = load_table("fineness_schemes")["schemes"]
    return MappingProxyType({key: _scheme(key, one) for key, one in raw.items()})


SCHEMES: tuple[str, ...] = tuple(load_table("fineness_schemes")["schemes"])
"""The keys of every scheme."""


def scheme(key: str) -> Scheme:
    """One scheme; raises `ValueError` naming those there are."""
    try:
        return schemes()[key]
    except KeyError:
        raise ValueError(f"no scheme {key!r}; there are {', '.join(SCHEMES)}") from None


@cache
def default_scheme(state: str) -> str | None:
    """The scheme by which labels of a state (two letters) are to be read; None where none is held here."""
    return next((one.key for one in schemes().values() if state.upper() in one.states), None)


def fineness_factor(key: str, *, passing_percent: Sequence[tuple[float, float]]) -> SchemeValue:
    """The fineness factor of a scheme, percent: 0 to 100, from the percent passing each of its sieves.

    Raises `ValueError` for impossible sieves or a scheme whose factors are not known.
    """
    found, passing = scheme(key), checked_sieves(passing_percent)
    if not found.factors:
        raise ValueError(f"the factors of {found.name} are not known; allowed is the value that the label states")
    shares = [passing_at(passing, mesh) for mesh in found.meshes]
    classes = _classes([share for share, _ in shares])
    weighed = list(zip(classes, found.factors, strict=True))
    factor = sum(share * weight for share, weight in weighed) / 100
    formula = " + ".join(f"{share:.4g} x {weight / 100:g}" for share, weight in weighed)
    guessed = [mesh for mesh, (_, inferred) in zip(found.meshes, shares, strict=True) if inferred]
    step = Step(f"fineness by {found.name}", formula, factor, "%", found.source)
    return SchemeValue(factor, "%", _about_guessed(found, guessed), (step,))


def _about_guessed(found: Scheme, guessed: Sequence[float]) -> tuple[Finding, ...]:
    if not guessed:
        return ()
    return (check("sieves_interpolated", source=found.source, meshes=", ".join(f"{mesh:g}" for mesh in guessed)),)


def _classes(passing: Sequence[float]) -> list[float]:
    """Percent in each class from percent passing: on the first sieve, between each pair, through the last."""
    edges = [100.0, *passing, 0.0]
    return [before - after for before, after in pairwise(edges)]


def effective_neutralizing_value(
    key: str,
    *,
    passing_percent: Sequence[tuple[float, float]],
    cce_percent: float,
    moisture_percent: float = 0.0,
    unit: str = "",
) -> SchemeValue:
    """CCE x fineness x dry matter by a scheme: percent, or lb/ton where the state prints it so or `unit` asks for it.

    Raises `ValueError` for a CCE outside 0 to 250 %, moisture outside 0 to 100 %, impossible sieves, or another unit
    than %, lb/ton.
    """
    if unit not in ("", "%", "percent", "lb/ton"):
        raise ValueError(f"unit {unit!r} is none of %, lb/ton")
    found = scheme(key)
    fineness = fineness_factor(key, passing_percent=passing_percent)
    cce, dry = checked_cce(cce_percent), 100 - checked_moisture(moisture_percent)
    percent = cce * fineness.value * dry / 10_000
    wet = f" x {dry:g}/100" if dry < 100 else ""
    step = Step(found.name, f"{cce:g} x {fineness.value:.4g}/100{wet}", percent, "%", found.source)
    if unit == "lb/ton" or (unit == "" and found.per_ton is not None):
        per_ton = found.per_ton or 2000.0
        last = Step(f"{found.name} a ton", f"{percent:.4g} % of {per_ton:g}", percent / 100 * per_ton, "lb/ton",
                    found.source)  # fmt: skip
        return SchemeValue(percent / 100 * per_ton, "lb/ton", fineness.findings, (*fineness.working, step, last))
    return SchemeValue(percent, "%", fineness.findings, (*fineness.working, step))
