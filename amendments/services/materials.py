"""Materials as the calculations need them, and as a record freezes them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction

from agronomy.liming_material import LimingMaterial
from amendments.models import Analysis, Material, Offer
from plots.services.plots import save_versioned

FrozenMaterial = Mapping[str, Any]

_LB = {
    "lb": Decimal(1),
    "ton": Decimal(2000),
    "kg": 1 / Decimal("0.45359237"),
    "t": 1000 / Decimal("0.45359237"),
}
PACKAGES = ("bag", "jug", "tote", "load")
AMOUNT_UNITS = ("bag", "lb", "ton", "jug", "tote", "gal", "load", "kg", "t")


def pounds(amount: Decimal, unit: str, *, package_lb: Decimal | None, lb_per_gal: Decimal | None) -> Decimal:
    """An amount as people count it, in pounds as spread.

    Packages need `package_lb` (pounds in one bag, jug, tote or load), gallons need `lb_per_gal`. Raises `ValueError`
    naming what is missing or the units that are allowed.
    """
    if unit in _LB:
        return amount * _LB[unit]
    if unit in PACKAGES:
        if not package_lb:
            raise ValueError(f"an amount in {unit}s needs the weight of one {unit} in pounds")
        return amount * package_lb
    if unit == "gal":
        if not lb_per_gal:
            raise ValueError("an amount in gallons needs the material's weight per gallon (lb/gal) in its analysis")
        return amount * lb_per_gal
    raise ValueError(f"{unit!r} is not a unit of amount; allowed are {', '.join(AMOUNT_UNITS)}")


def analysis_on(material: Material, day: dt.date) -> Analysis | None:
    """The newest analysis dated on or before the day, else the oldest there is."""
    analyses = sorted(material.analyses.all(), key=lambda analysis: (analysis.analysed_on, analysis.pk))
    before = [analysis for analysis in analyses if analysis.analysed_on <= day]
    if before:
        return before[-1]
    return analyses[0] if analyses else None


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def freeze(material: Material, analysis: Analysis | None) -> dict[str, Any]:
    """The material and its analysis as plain data, so that a record does not move when the material is edited."""
    frozen: dict[str, Any] = {
        "material": material.pk,
        "name": material.name,
        "kind": material.kind,
        "form": material.form,
        "nitrogen_source": material.nitrogen_source,
    }
    if analysis is not None:
        names = (
            "cce_percent", "moisture_percent", "solids_percent", "density_lb_per_gal", "bulk_density_lb_per_ft3",
            "n_percent", "p2o5_percent", "k2o_percent",
        )  # fmt: skip
        frozen |= {name: _number(getattr(analysis, name)) for name in names}
        frozen |= {
            "analysed_on": analysis.analysed_on.isoformat(),
            "lot": analysis.lot,
            "passing_percent": analysis.passing_percent,
            "declared_values": analysis.declared_values,
            "other_percent": analysis.other_percent,
        }
    return frozen


def liming_material(frozen: FrozenMaterial) -> LimingMaterial:
    """The frozen material as `agronomy` takes it."""
    sieves = sorted((float(mesh), float(share)) for mesh, share in frozen.get("passing_percent", {}).items())
    declared = frozen.get("declared_values", {})
    other = frozen.get("other_percent", {})
    return LimingMaterial(
        key=str(frozen["material"]),
        name=frozen["name"],
        form=frozen["form"],
        cce_percent=frozen.get("cce_percent"),
        passing_percent=tuple(sieves),
        moisture_percent=frozen.get("moisture_percent") or 0.0,
        declared=tuple(sorted((scheme, float(value)) for scheme, value in declared.items())),
        solids_percent=frozen.get("solids_percent"),
        density_lb_per_gal=frozen.get("density_lb_per_gal"),
        mg_percent=float(other["mg"]) if "mg" in other else None,
    )


def grade(frozen: FrozenMaterial) -> tuple[float, float, float]:
    """N, P2O5 and K2O in percent."""
    return tuple(float(frozen.get(name) or 0) for name in ("n_percent", "p2o5_percent", "k2o_percent"))  # type: ignore[return-value]


def package_lb(offer: Offer, analysis: Analysis | None) -> Decimal:
    """Pounds in one package of an offer; raises `ValueError` for gallons without a density."""
    density = analysis.density_lb_per_gal if analysis else None
    return pounds(offer.package_size, offer.package_unit, package_lb=None, lb_per_gal=density)


def price_per_package(offer: Offer, analysis: Analysis | None) -> Decimal:
    """Dollars for one package, however the offer states its price."""
    if offer.price_per == "package":
        return offer.price
    if offer.price_per == "gal":
        if offer.package_unit != "gal":
            raise ValueError("a price per gallon needs a package in gallons")
        return offer.price * offer.package_size
    return offer.price * package_lb(offer, analysis) / _LB[offer.price_per]


@transaction.atomic
def save_material(material: Material, *, seen_version: int | None) -> Material:
    """Add a material, or store a changed one; raises `plots.services.plots.Stale` if it changed meanwhile."""
    if seen_version is None:
        material.save()
    else:
        save_versioned(material, seen_version=seen_version)
    return material


@transaction.atomic
def add_analysis(material: Material, fields: Mapping[str, Any]) -> Analysis:
    """Add a dated analysis. Older ones stay, and records keep what they froze."""
    analysis = Analysis(material=material, **fields)
    analysis.save()
    return analysis


@transaction.atomic
def save_offer(offer: Offer, *, seen_version: int | None) -> Offer:
    """Add an offer, or store a changed one; raises `plots.services.plots.Stale` if it changed meanwhile."""
    if seen_version is None:
        offer.save()
    else:
        save_versioned(offer, seen_version=seen_version)
    return offer


@transaction.atomic
def retire_material(material: Material, *, on: dt.date) -> Material:
    """Stop offering a material. What was spread of it stays."""
    material.retired_on = on
    material.version += 1
    material.save()
    return material
