"""What a liming material is worth, in the kind of value that a requirement is stated in.

A material may be divided only into a requirement of the same kind: an effective value by its state's scheme, or
the CCE alone. Anything else would count fineness twice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from agronomy.findings import Finding, Step, check, note, stop
from agronomy.liming_material.material import (
    DUST_FINE,
    NO_LIMING_VALUE,
    LimingMaterial,
    MaterialValue,
    checked_cce,
    checked_moisture,
    checked_solids,
)
from agronomy.liming_material.schemes import SCHEMES, Scheme, effective_neutralizing_value, scheme
from agronomy.liming_material.sieves import fine_grade, sieve_classes
from agronomy.sources import Status

KINDS = ("effective", "cce", "ordinary_stone")
DEFAULT_SCHEME = "nebraska_ecc"
"""Where a method says "effective" and neither it nor the property names a scheme: published, and over three years."""
WHOLLY_FINE = ((200.0, 100.0),)
MAGNESIUM_SHORT_PPM = 50.0


def check_pairing(
    *, reference_kind: str, reference_scheme: str | None, value_kind: str, value_scheme: str | None
) -> None:
    """Raise `ValueError` unless a material's value is of the kind that the requirement is stated in.

    An effective requirement takes the effective value of its own scheme (of any one, where it names none); one in
    CCE or ordinary stone takes the CCE alone.
    """
    if reference_kind not in KINDS:
        raise ValueError(f"reference kind {reference_kind!r} is none of {', '.join(KINDS)}")
    if value_kind not in ("effective", "cce"):
        raise ValueError(f"value kind {value_kind!r} is none of effective, cce")
    if value_kind == "effective":
        named = scheme(value_scheme or "")
        if reference_kind != "effective":
            raise ValueError(f"a requirement in {_words(reference_kind)} takes the CCE, not {named.name}: "
                             "fineness would count twice")  # fmt: skip
        if reference_scheme not in (None, value_scheme):
            wanted = scheme(reference_scheme or "").name
            raise ValueError(f"a requirement in {wanted} takes that value, not {named.name} of another state")
        return
    if value_scheme is not None:
        raise ValueError(f"a CCE has no scheme, and {value_scheme} is given")
    if reference_kind == "effective":
        wanted = "an effective value" if reference_scheme is None else scheme(reference_scheme).name
        raise ValueError(f"an effective requirement takes {wanted}, not the CCE alone: the grind would not count")


def _words(kind: str) -> str:
    return {"cce": "CCE", "ordinary_stone": "ordinary stone"}[kind]


def material_value(
    material: LimingMaterial, *, reference_kind: str, reference_scheme: str | None, own_scheme: str | None = None
) -> MaterialValue:
    """The material's value of the kind a requirement is stated in, percent of the material as spread.

    `effective` takes the requirement's scheme, `cce` and `ordinary_stone` the CCE alone. Where the requirement names
    no scheme, the property's `own_scheme` is taken, else what the label states, else `DEFAULT_SCHEME`. Moisture
    counts once. A material without a liming anion is worth 0. Raises `ValueError` for a wrong pairing or a figure
    that is missing.
    """
    if reference_kind != "effective" or reference_scheme is not None:
        check_pairing(
            reference_kind=reference_kind, reference_scheme=reference_scheme,
            value_kind="effective" if reference_scheme else "cce", value_scheme=reference_scheme,
        )  # fmt: skip
    if material.form in NO_LIMING_VALUE:
        return MaterialValue(0.0, (stop("no_liming_value", source="atomic_weights", material=material.name),))
    if reference_kind != "effective":
        return _by_cce(material, reference_kind)
    if reference_scheme is not None:
        return _by_scheme(material, scheme(reference_scheme))
    return _by_any_scheme(material, own_scheme)


def _by_cce(material: LimingMaterial, kind: str) -> MaterialValue:
    if material.cce_percent is None:
        told = f"; {_declared_names(material)} is not of that kind" if material.declared else ""
        raise ValueError(f"{material.name}: the CCE is missing, and the requirement is stated in it{told}")
    cce = checked_cce(material.cce_percent, form=material.form)
    found = _about_grade(material) if kind == "cce" else ()
    share, how = _solid_share(material)
    value = cce * share / 100
    step = Step("CCE as spread", f"{cce:g}{how}", value, "%", "lime_reference_kinds")
    return MaterialValue(value, found, (step,))


def _about_grade(material: LimingMaterial) -> tuple[Finding, ...]:
    """A rate in CCE is a rate of finely ground stone; coarser stone of the same CCE does less."""
    fine = fine_grade(material)
    if fine:
        return ()
    code = "stone_not_fine" if fine is False else "stone_grade_unknown"
    return (check(code, source="fine_grade", material=material.name),)


def _solid_share(material: LimingMaterial) -> tuple[float, str]:
    """Percent of the product that is lime rather than water, and how the working writes it.

    A suspension goes by its solids: its water is the other part of the product, not moisture of the stone.
    """
    if material.form == "fluid" and material.solids_percent is not None:
        solids = checked_solids(material.solids_percent)
        return solids, f" x {solids:g}/100 solids"
    dry = 100 - checked_moisture(material.moisture_percent)
    return dry, f" x {dry:g}/100 dry" if dry < 100 else ""


def _by_scheme(material: LimingMaterial, found: Scheme) -> MaterialValue:
    stated = dict(material.declared).get(found.key)
    if stated is not None:
        return _as_stated(material, found, stated)
    if material.cce_percent is None:
        other = f"; {_declared_names(material)} is not that value" if material.declared else ""
        raise ValueError(f"{material.name}: CCE or {found.name} is missing{other}")
    passing = material.passing_percent or (WHOLLY_FINE if material.form in DUST_FINE else ())
    if not passing:
        raise ValueError(f"{material.name}: the sieve analysis or {found.name} is missing")
    checked_cce(material.cce_percent, form=material.form)
    made = effective_neutralizing_value(
        found.key, passing_percent=passing, cce_percent=material.cce_percent,
        moisture_percent=100 - _solid_share(material)[0], unit="%",
    )  # fmt: skip
    findings = (*made.findings, *_about_scheme(found))
    if not material.passing_percent:
        findings = (note("taken_as_fine", source=found.source, material=material.name), *_about_scheme(found))
    return MaterialValue(made.value, findings, made.working)


def _as_stated(material: LimingMaterial, found: Scheme, stated: float) -> MaterialValue:
    percent = stated / found.per_ton * 100 if found.per_ton else stated
    most = 250.0
    if not 0 <= percent <= most:
        unit, limit = ("lb/ton", most / 100 * found.per_ton) if found.per_ton else ("%", most)
        raise ValueError(f"{material.name}: {found.name} of {stated:g} {unit} is not 0 to {limit:g} {unit}")
    dry = 100.0 if found.moisture else 100 - checked_moisture(material.moisture_percent)
    written = f"{stated:g}/{found.per_ton:g}" if found.per_ton else f"{stated:g}"
    formula = written + (f" x {dry:g}/100 dry" if dry < 100 else "")
    step = Step(f"{found.name} as the label states it", formula, percent * dry / 100, "%", found.source)
    return MaterialValue(percent * dry / 100, (), (step,))


def _about_scheme(found: Scheme) -> tuple[Finding, ...]:
    """Factors that are not published say so. A label's own figure does not rest on our copy of them."""
    if found.status == "published":
        return ()
    return (note("scheme_not_published", source=found.source, scheme=found.name, status=found.status),)


def _by_any_scheme(material: LimingMaterial, own: str | None) -> MaterialValue:
    """By the property's own scheme; where the analysis does not reach for it, by what the label states, and said so."""
    declared = [key for key, _ in material.declared]
    tried = [*([own] if own else []), *declared, DEFAULT_SCHEME]
    missing = ""
    for key in tried:
        found = scheme(key)
        try:
            value = _by_scheme(material, found)
        except ValueError as error:
            missing = missing or str(error)
            continue
        told = () if key == own else (note("effective_by_scheme", source=found.source, scheme=found.name),)
        return replace(value, findings=(*value.findings, *told))
    raise ValueError(missing)


def _declared_names(material: LimingMaterial) -> str:
    return " and ".join(scheme(key).name for key, _ in material.declared)


@dataclass(frozen=True, slots=True)
class SchemeRow:
    """What one material is worth by one state's scheme. `percent` None says why in `why_not`."""

    scheme: str
    name: str
    status: Status
    percent: float | None
    lb_per_ton: float | None
    stated: bool
    why_not: str = ""
    findings: tuple[Finding, ...] = ()


def values_by_scheme(material: LimingMaterial) -> tuple[SchemeRow, ...]:
    """The same material by every scheme, side by side, as spread: an effective figure is one state's only."""
    return tuple(_row(material, scheme(key)) for key in SCHEMES)


def _row(material: LimingMaterial, found: Scheme) -> SchemeRow:
    stated = found.key in dict(material.declared)
    try:
        value = material_value(material, reference_kind="effective", reference_scheme=found.key)
    except ValueError as error:
        return SchemeRow(found.key, found.name, found.status, None, None, stated, str(error))
    per_ton = value.value_percent / 100 * (found.per_ton or 2000.0)
    return SchemeRow(
        found.key, found.name, found.status, value.value_percent, per_ton, stated, "", value.findings
    )


def first_year_share(material: LimingMaterial) -> float:
    """Share of the material (0 to 1) that reacts in the first year, by the Illinois one-year factors (from memory).

    Raises `ValueError` for a stone without a sieve analysis.
    """
    if material.form in NO_LIMING_VALUE:
        return 0.0
    factors: Mapping[str, float] = dict(zip(_COARSE_FIRST, scheme("illinois_env_1yr").factors, strict=True))
    return sum(share * factors[name] / 100 for name, share in sieve_classes(material))


_COARSE_FIRST = ("coarser_than_8", "8_to_30", "30_to_60", "finer_than_60")


def magnesium_advice(material: LimingMaterial, *, magnesium_ppm: float | None) -> Finding | None:
    """Dolomitic lime where magnesium is short (Ohio: under 50 ppm), else the cheapest effective pound."""
    if material.form != "dolomitic" or magnesium_ppm is None or magnesium_ppm < MAGNESIUM_SHORT_PPM:
        return None
    return note("dolomitic_not_needed", source="dolomitic_where_short", magnesium_ppm=magnesium_ppm)
