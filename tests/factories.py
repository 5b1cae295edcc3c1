"""Plain functions that make one thing each, with sensible rest. Keyword arguments say what a test is about."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import count
from typing import Any

from django.utils import timezone

from amendments.models import Analysis, Material, Offer, Spreader, SpreadingRecord, Supplier
from amendments.services.records import Entry, record_spreading
from plots.models import Person, Planting, Plot, Property, Role
from plots.seasons import season_on
from plots.services.plantings import plant
from plots.services.plots import create_plot
from soiltests.models import Lab, SoilTest
from soiltests.services.entry import MeasurementEntry, enter_test

_number = count(1)


def make_person(username: str = "", **fields: Any) -> Person:
    """A person whose password is "long enough to pass"."""
    name = username or f"person{next(_number)}"
    return Person.objects.create_user(username=name, password="long enough to pass", **fields)


def make_property(code: str = "", *, manager: Person | None = None, **fields: Any) -> Property:
    code = code or f"P{next(_number)}"
    made = Property(code=code, name=fields.pop("name", f"{code} ground"), **fields)
    made.save()
    if manager is not None:
        give_role(manager, made, Role.Kind.MANAGER)
    return made


def give_role(person: Person, property_: Property, kind: str) -> Role:
    person.__dict__.pop("_roles_by_property", None)
    return Role.objects.create(person=person, property=property_, kind=kind)


def make_plot(property_: Property, code: str = "", *, acres: str | Decimal = "1.5", **fields: Any) -> Plot:
    area = Decimal(str(acres))
    defaults = {"code": code or f"N{next(_number)}", "name": "", "area_entered": area, "acres_entered": area}
    return create_plot(property_, {**defaults, **fields})


def make_planting(plot: Plot, *crops: str, first_season: int | None = None, **fields: Any) -> Planting:
    keys = crops or ("white_clover",)
    share = round(100 / len(keys), 1)
    components = [{"crop": key, "share_percent": share} for key in keys]
    season = season_on(dt.date.today()) if first_season is None else first_season
    return plant(plot, {"components": components, "first_season": season, "name": "", **fields})


def make_lab(property_: Property, **fields: Any) -> Lab:
    name = fields.pop("name", f"Lab {next(_number)}")
    return Lab.objects.create(property=property_, name=name, **fields)


def make_test(
    plot: Plot,
    *,
    on: dt.date,
    lab: Lab | None = None,
    depth_in: str | Decimal = "6",
    label: str = "",
    measurements: Sequence[MeasurementEntry] = (),
    sample: Mapping[str, Any] | None = None,
    **test: Any,
) -> SoilTest:
    """A soil test of one sample; further keywords are columns of `SoilTest` (ph="5.6", buffer_ph="6.2", …)."""
    identity = {"sampled_on": on, "depth_top_in": Decimal(0), "depth_bottom_in": Decimal(str(depth_in)), "label": label}
    return enter_test(
        plot,
        lab=lab or plot.property.labs.first() or make_lab(plot.property),
        sample={**identity, **(sample or {})},
        test={name: Decimal(value) if isinstance(value, str) and name in _DECIMALS else value
              for name, value in test.items()},
        measurements=measurements,
    )  # fmt: skip


_DECIMALS = {
    "ph", "buffer_ph", "lab_lime_amount", "lab_lime_target_ph", "lab_lime_depth_in", "lab_n", "lab_p2o5", "lab_k2o",
}  # fmt: skip


def make_lime(property_: Property, name: str = "", **analysis: Any) -> Material:
    """A quarry lime: CCE 88, 95/75/60 % through 10/20/40 mesh, 5 % water, unless said otherwise."""
    form = analysis.pop("form", "quarry")
    made = Material.objects.create(
        property=property_, kind=Material.Kind.LIME, name=name or f"Lime {next(_number)}", form=form
    )
    defaults: dict[str, Any] = {
        "analysed_on": dt.date(2020, 1, 1),
        "cce_percent": Decimal(88),
        "passing_percent": {"10": 95, "20": 75, "40": 60},
        "moisture_percent": Decimal(5),
    }
    Analysis.objects.create(material=made, **{**defaults, **analysis})
    return made


def make_fertilizer(property_: Property, grade: str, *, name: str = "", **fields: Any) -> Material:
    """A fertilizer by its grade, as "18-46-0"."""
    n, p2o5, k2o = (Decimal(part) for part in grade.split("-"))
    made = Material.objects.create(
        property=property_, kind=Material.Kind.FERTILIZER, name=name or grade, form="granular", **fields
    )
    Analysis.objects.create(
        material=made, analysed_on=dt.date(2020, 1, 1), n_percent=n, p2o5_percent=p2o5, k2o_percent=k2o
    )
    return made


def make_offer(material: Material, *, price: str = "30", package: str = "truckload", **fields: Any) -> Offer:
    supplier, _ = Supplier.objects.get_or_create(property=material.property, name="Invented supplier")
    size = {"truckload": ("22", "ton"), "bag": ("50", "lb"), "jug": ("2.5", "gal")}.get(package, ("1", "ton"))
    defaults = {"supplier": supplier, "package_size": Decimal(size[0]), "package_unit": size[1]}
    return Offer.objects.create(
        material=material, package=package, price=Decimal(price), **{**defaults, **fields}
    )


def make_spreader(property_: Property, **fields: Any) -> Spreader:
    defaults = {"name": f"Spreader {next(_number)}", "vehicle": "side_by_side", "hopper_lb": Decimal(300)}
    return Spreader.objects.create(property=property_, **{**defaults, **fields})


def make_record(
    plot: Plot,
    material: Material,
    *,
    on: dt.date,
    amount: str,
    unit: str = "ton",
    by: Person | None = None,
    **fields: Any,
) -> SpreadingRecord:
    """A spreading record that covered the whole plot unless `area` says otherwise."""
    person = by or Person.objects.filter(roles__property=plot.property).first() or make_person()
    area = Decimal(str(fields.pop("area", plot.acres)))
    entry = Entry(
        plot=plot,
        material=material,
        spread_on=on,
        amount=Decimal(amount),
        unit=unit,
        area=area,
        entered_by=person,
        entered_at=fields.pop("entered_at", timezone.now()),
        applicator=fields.pop("applicator", str(person)),
        **fields,
    )
    return record_spreading(entry)[0]
