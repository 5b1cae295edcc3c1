"""What a liming material is worth, in the kind of value that a requirement is stated in.

A material may be divided only into a requirement of the same kind: an effective value by its state's scheme, or
the CCE alone. Anything else would count fineness twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import log
from types import MappingProxyType

from agronomy.findings import Finding, Step, Working, check, note, stop
from agronomy.sources import load_table

FORMS = (
    "quarry", "pelletized", "fluid", "hydrated", "burnt", "dolomitic", "wood_ash", "marl", "slag", "shells", "gypsum",
    "salt", "other",
)  # fmt: skip
NO_LIMING_VALUE = ("gypsum", "salt")
CAUSTIC = ("hydrated", "burnt", "wood_ash")
LARGEST_CCE = 250.0  # magnesium oxide, the strongest base there is by weight, is 248.3
MESH_UM: Mapping[float, float] = MappingProxyType(
    {4: 4750, 8: 2360, 10: 2000, 16: 1180, 20: 850, 30: 600, 40: 425, 50: 300, 60: 250, 80: 180, 100: 150, 200: 75}
)
"""Opening of US standard sieves in micrometres (ASTM E11), for interpolation on log size."""

Passing = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class LimingMaterial:
    """A product as analysed: percent by weight. `passing_percent` pairs a US mesh with the percent that passes it.

    `declared` pairs a scheme with the value a label states, as is. `moisture_percent` is of the material as spread.
    """

    key: str
    name: str
    form: str
    cce_percent: float | None = None
    passing_percent: Passing = ()
    moisture_percent: float = 0.0
    declared: tuple[tuple[str, float], ...] = ()
    solids_percent: float | None = None
    density_lb_per_gal: float | None = None
    mg_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Scheme:
    """One state's way to an effective value. `factors` has one more entry than `meshes`; percent."""

    key: str
    name: str
    source: str
    meshes: tuple[float, ...]
    factors: tuple[float, ...]
    moisture: bool
    per_ton: float | None


@dataclass(frozen=True, slots=True)
class SchemeValue:
    """A fineness factor or effective value; `unit` is percent or lb/ton."""

    value: float
    unit: str
    findings: tuple[Finding, ...] = ()
    working: Working = ()


@dataclass(frozen=True, slots=True)
class MaterialValue:
    """What a material is worth against a requirement, percent of the material as spread."""

    value_percent: float
    findings: tuple[Finding, ...] = ()
    working: Working = ()


@cache
def schemes() -> Mapping[str, Scheme]:
    """Every scheme by key."""
    raw = load_table("fineness_schemes")["schemes"]
    return MappingProxyType(
        {
            key: Scheme(
                key, one["name"], one["source"], tuple(map(float, one["meshes"])), tuple(map(float, one["factors"])),
                one.get("moisture", False), one.get("per_ton"),
            )
            for key, one in raw.items()
        }
    )  # fmt: skip


def scheme(key: str) -> Scheme:
    """One scheme; raises `ValueError` naming those there are."""
    try:
        return schemes()[key]
    except KeyError:
        raise ValueError(f"no scheme {key!r}; there are {', '.join(schemes())}") from None


def opening_um(mesh: float) -> float:
    """Opening of a US mesh in micrometres; between listed sieves by the log of the mesh number."""
    if mesh in MESH_UM:
        return MESH_UM[mesh]
    if not 4 <= mesh <= 200:
        raise ValueError(f"mesh {mesh:g} is not 4 to 200")
    listed = sorted(MESH_UM)
    high = next(one for one in listed if one > mesh)
    low = listed[listed.index(high) - 1]
    share = log(mesh / low) / log(high / low)
    return float(MESH_UM[low] * (MESH_UM[high] / MESH_UM[low]) ** share)


def checked_sieves(passing_percent: Sequence[tuple[float, float]]) -> Passing:
    """The sieve analysis coarse to fine. Raises `ValueError` unless it lies in 0 to 100 and never rises."""
    ordered = tuple(sorted((float(mesh), float(share)) for mesh, share in passing_percent))
    before = 100.0
    for mesh, share in ordered:
        if not 0 <= share <= 100:
            raise ValueError(f"{share:g} % through {mesh:g} mesh is not 0 to 100 %")
        if share > before:
            raise ValueError(f"{share:g} % through {mesh:g} mesh is more than through a coarser sieve ({before:g} %)")
        before = share
    return ordered


def passing_at(passing: Passing, mesh: float) -> tuple[float, bool]:
    """Percent through a mesh, and whether it was interpolated on log size.

    Coarser than the coarsest sieve given, all passes between it and 4 mesh is taken in a straight line to 100 %;
    finer than the finest, in a straight line to nothing at 1 micrometre. Raises `ValueError` without sieves.
    """
    if not passing:
        raise ValueError("the sieve analysis is missing")
    for one, share in passing:
        if one == mesh:
            return share, False
    size = log(opening_um(mesh))
    coarser = [(log(opening_um(one)), share) for one, share in passing if one < mesh]
    finer = [(log(opening_um(one)), share) for one, share in passing if one > mesh]
    top = coarser[-1] if coarser else (log(9500.0), 100.0)  # all limestone sold passes 3/8 inch
    bottom = finer[0] if finer else (0.0, 0.0)
    share = top[1] + (top[0] - size) / (top[0] - bottom[0]) * (bottom[1] - top[1])
    return share, True


def fineness_factor(key: str, *, passing_percent: Sequence[tuple[float, float]]) -> SchemeValue:
    """The fineness factor of a scheme, percent: 0 to 100, from the percent passing each of its sieves."""
    found, passing = scheme(key), checked_sieves(passing_percent)
    shares = [passing_at(passing, mesh) for mesh in found.meshes]
    classes = _classes([share for share, _ in shares])
    factor = sum(share * weight for share, weight in zip(classes, found.factors, strict=True)) / 100
    formula = " + ".join(
        f"{share:.4g} x {weight / 100:g}" for share, weight in zip(classes, found.factors, strict=True)
    )
    guessed = [mesh for mesh, (_, inferred) in zip(found.meshes, shares, strict=True) if inferred]
    findings = (
        (check("sieves_interpolated", source=found.source, meshes=", ".join(f"{mesh:g}" for mesh in guessed)),)
        if guessed
        else ()
    )
    step = Step(f"fineness by {found.name}", formula, factor, "%", found.source)
    return SchemeValue(factor, "%", findings, (step,))


def _classes(passing: Sequence[float]) -> list[float]:
    """Percent in each class from percent passing: on the first sieve, between each pair, through the last."""
    edges = [100.0, *passing, 0.0]
    return [before - after for before, after in pairwise(edges)]


def checked_cce(cce_percent: float) -> float:
    """The CCE; raises `ValueError` outside 0 to 250 %."""
    if not 0 <= cce_percent <= LARGEST_CCE:
        raise ValueError(f"a CCE of {cce_percent:g} % is not 0 to {LARGEST_CCE:g} %: no pure base is stronger")
    return cce_percent


def checked_moisture(moisture_percent: float) -> float:
    """The moisture; raises `ValueError` outside 0 to 100 %."""
    if not 0 <= moisture_percent < 100:
        raise ValueError(f"moisture of {moisture_percent:g} % is not 0 to under 100 %")
    return moisture_percent


def effective_neutralizing_value(
    key: str,
    *,
    passing_percent: Sequence[tuple[float, float]],
    cce_percent: float,
    moisture_percent: float = 0.0,
    unit: str = "",
) -> SchemeValue:
    """CCE x fineness x dry matter by a scheme: percent, or lb/ton where the state prints it so or `unit` asks for it.

    Raises `ValueError` for a CCE outside 0 to 250 %, moisture outside 0 to 100 % or impossible sieves.
    """
    found = scheme(key)
    fineness = fineness_factor(key, passing_percent=passing_percent)
    cce, dry = checked_cce(cce_percent), 100 - checked_moisture(moisture_percent)
    percent = cce * fineness.value * dry / 10_000
    wet = f" x {dry:g}/100" if dry < 100 else ""
    step = Step(found.name, f"{cce:g} x {fineness.value:.4g}/100{wet}", percent, "%", found.source)
    if found.per_ton is not None and unit != "%":
        value, shown = percent / 100 * found.per_ton, "lb/ton"
    elif unit == "lb/ton":
        value, shown = percent * 20, "lb/ton"
    else:
        value, shown = percent, "%"
    return SchemeValue(value, shown, fineness.findings, (*fineness.working, step))


def material_value(material: LimingMaterial, *, reference_kind: str, reference_scheme: str | None) -> MaterialValue:
    """The material's value of the kind a requirement is stated in, percent of the material as spread.

    `effective` takes the requirement's scheme (any, where the method names none), `cce` and `ordinary_stone` the CCE
    alone. Moisture counts once. A material without a liming anion is worth 0. Raises `ValueError` for a wrong pairing
    or a figure that is missing.
    """
    if material.form in NO_LIMING_VALUE:
        return MaterialValue(0.0, (stop("no_liming_value", source="atomic_weights", material=material.name),))
    if reference_kind in ("cce", "ordinary_stone"):
        if reference_scheme is not None:
            raise ValueError(f"a {reference_kind} requirement takes the CCE, not {reference_scheme}")
        return _by_cce(material, reference_kind)
    if reference_kind != "effective":
        raise ValueError(f"{reference_kind!r} is none of effective, cce, ordinary_stone")
    return _by_scheme(material, reference_scheme or DEFAULT_SCHEME)


DEFAULT_SCHEME = "illinois_env_4yr"
"""Where a method says "effective" without a scheme: what reacts over four years, the usual reach of one dressing."""


def _by_cce(material: LimingMaterial, kind: str) -> MaterialValue:
    if material.cce_percent is None:
        raise ValueError(f"{material.name}: the CCE is missing, and the requirement is stated in it")
    cce, dry = checked_cce(material.cce_percent), 100 - checked_moisture(material.moisture_percent)
    value, working = _as_spread(material, cce, "lime_reference_kinds")
    if value is None:
        value = cce * dry / 100
        wet = f" x {dry:g}/100" if dry < 100 else ""
        working = (Step("CCE as spread", f"{cce:g}{wet}", value, "%", "lime_reference_kinds"),)
    return MaterialValue(value, (), working)


def _as_spread(material: LimingMaterial, cce: float, source: str) -> tuple[float | None, Working]:
    """A suspension by its solids: its water is not moisture of the stone but the other part of the product."""
    if material.form != "fluid" or material.solids_percent is None:
        return None, ()
    value = cce * material.solids_percent / 100
    return value, (Step("CCE of the suspension", f"{cce:g} x {material.solids_percent:g}/100", value, "%", source),)


def _by_scheme(material: LimingMaterial, key: str) -> MaterialValue:
    found = scheme(key)
    stated = dict(material.declared).get(key)
    if stated is not None:
        percent = stated / found.per_ton * 100 if found.per_ton else stated
        wet = checked_moisture(material.moisture_percent) if not found.moisture else 0.0
        step = Step(f"{found.name} as the label states it", "", percent * (100 - wet) / 100, "%", found.source)
        return MaterialValue(percent * (100 - wet) / 100, (), (step,))
    if material.cce_percent is None:
        raise ValueError(f"{material.name}: CCE or {found.name} is missing")
    if not material.passing_percent:
        raise ValueError(f"{material.name}: the sieve analysis or {found.name} is missing")
    solids = material.solids_percent if material.form == "fluid" else None
    made = effective_neutralizing_value(
        key,
        passing_percent=material.passing_percent,
        cce_percent=material.cce_percent,
        moisture_percent=material.moisture_percent if solids is None else 100 - solids,
        unit="%",
    )
    return MaterialValue(made.value, made.findings, made.working)


SIEVE_CLASSES: tuple[tuple[str, float, float], ...] = (
    ("finer_than_60", 60, 1e9), ("30_to_60", 30, 60), ("8_to_30", 8, 30), ("coarser_than_8", 0, 8),
)  # fmt: skip


def sieve_classes(material: LimingMaterial) -> tuple[tuple[str, float], ...]:
    """Shares (0 to 1, summing to 1) finer than 60 mesh, 30-60, 8-30 and coarser than 8, finest first.

    Burnt and hydrated lime and suspensions without a sieve analysis count as finer than 60 mesh. Raises `ValueError`
    for any other material without one.
    """
    if not material.passing_percent:
        if material.form in ("burnt", "hydrated", "fluid"):
            return (("finer_than_60", 1.0), ("30_to_60", 0.0), ("8_to_30", 0.0), ("coarser_than_8", 0.0))
        raise ValueError(f"{material.name}: the sieve analysis is missing")
    passing = checked_sieves(material.passing_percent)
    p8, p30, p60 = (passing_at(passing, mesh)[0] / 100 for mesh in (8, 30, 60))
    return (("finer_than_60", p60), ("30_to_60", p30 - p60), ("8_to_30", p8 - p30), ("coarser_than_8", 1 - p8))


def first_year_share(material: LimingMaterial) -> float:
    """Share of the material (0 to 1) that reacts in the first year, by the Illinois one-year factors (from memory)."""
    factors = scheme("illinois_env_1yr").factors
    shares = [share for _, share in reversed(sieve_classes(material))]
    return sum(share * factor / 100 for share, factor in zip(shares, factors, strict=True))


def magnesium_advice(material: LimingMaterial, *, magnesium_ppm: float | None) -> Finding | None:
    """Dolomitic lime where magnesium is short (Ohio: under 50 ppm), else the cheapest effective pound."""
    if material.form != "dolomitic" or magnesium_ppm is None or magnesium_ppm < 50:
        return None
    return note("dolomitic_not_needed", magnesium_ppm=magnesium_ppm)
