"""The demo property: invented ground, invented people, prices and lab figures, with some bad luck in it.

It is made by the same functions that the pages call, so that everything in it could have been typed in.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import transaction

from agronomy.crops import crop as crop_of
from amendments.models import Analysis, Material, Offer, Spreader, SpreadingRecord, Supplier
from amendments.services.orders import LineWanted, draft_work_order, issue_work_order
from amendments.services.records import Entry, correct_record, entry_of, record_spreading
from config.demo.plots_table import PLOTS, Ground
from plots.models import Person, Plot, Property, Role
from plots.seasons import FALL, season_of
from plots.services.plantings import plant
from plots.services.plots import create_plot
from soiltests.models import Lab, Sample
from soiltests.services.entry import MeasurementEntry, enter_test, set_fate

CODE, NAME = "FERNHOLLOW", "Fernhollow"


@dataclass(frozen=True, slots=True)
class Cast:
    manager: Person
    hand: Person
    viewer: Person


@dataclass(frozen=True, slots=True)
class Stage:
    """What the scenes below play on."""

    property: Property
    plots: Mapping[str, Plot]
    materials: Mapping[str, Material]
    spreaders: Mapping[str, Spreader]
    lab: Lab
    cast: Cast
    today: dt.date
    last_september: int

    def day(self, years_ago: int, month: int, day: int) -> dt.date:
        """A date counted back from the newest September sampling."""
        return dt.date(self.last_september - years_ago, month, day)


@transaction.atomic
def build(*, manager: Person, hand: Person, viewer: Person, today: dt.date) -> Property:
    """Make the whole property as it stands on `today`; the dates in it are counted back from then."""
    cast = Cast(manager, hand, viewer)
    property_ = _property(cast)
    stage = Stage(
        property=property_,
        plots={ground.code: _plot(property_, ground) for ground in PLOTS},
        materials=_materials(property_, today),
        spreaders=_spreaders(property_),
        lab=Lab.objects.create(
            property=property_, name="Demo soil laboratory (invented)", buffer_method="mehlich", extractant="mehlich3",
            fee=Decimal("8.00"),
        ),
        cast=cast,
        today=today,
        last_september=today.year if today >= dt.date(today.year, 9, 25) else today.year - 1,
    )  # fmt: skip
    for ground in PLOTS:
        _plantings(stage, ground)
        _tests(stage, ground)
    _bad_luck_in_the_lab(stage)
    _lime_spread(stage)
    _fertilizer_spread(stage)
    _orders(stage)
    return property_


def _property(cast: Cast) -> Property:
    property_ = Property(
        code=CODE, name=NAME, is_demo=True, state="NC", region=Property.Region.WARM_HUMID,
        time_zone="America/New_York", target_by_crop={"alfalfa": 6.5},
    )  # fmt: skip
    property_.save()
    for person, kind in ((cast.manager, "manager"), (cast.hand, "hand"), (cast.viewer, "viewer")):
        Role.objects.create(property=property_, person=person, kind=kind)
    return property_


def _plot(property_: Property, ground: Ground) -> Plot:
    acres = Decimal(ground.acres)
    return create_plot(
        property_,
        {
            "code": ground.code, "name": ground.name, "area_entered": acres, "acres_entered": acres,
            "texture": ground.texture, "access": ground.access, "tillage": ground.tillage,
            "depth_limed_in": Decimal(ground.depth_in), "near_water": ground.near_water, "slope": ground.slope,
            "note": ground.note, "usual_sampling_month": 9,
            "access_months": [5, 6, 7, 8, 9, 10] if ground.access == "lime_truck" else [],
        },
    )  # fmt: skip


# name, form, analysis, and its offers: basis, package, size, unit, least packages, price, price per
_LIME = (
    ("Quarry lime, calcitic", "quarry",
     {"cce_percent": "92", "passing_percent": {"8": 98, "10": 95, "20": 78, "30": 70, "40": 63, "50": 56, "60": 52, "100": 38},
      "moisture_percent": "4"},
     (("spread", "truckload", "22", "ton", "1", "46.00", "ton"), ("at_source", "bulk", "1", "ton", "1", "24.00", "ton"))),
    ("Quarry lime, dolomitic", "dolomitic",
     {"cce_percent": "98", "passing_percent": {"8": 96, "10": 90, "20": 70, "30": 61, "40": 54, "50": 47, "60": 43, "100": 30},
      "moisture_percent": "3", "other_percent": {"mg": 11}},
     (("spread", "truckload", "22", "ton", "1", "49.00", "ton"),)),
    ("Pelletized lime, 40-lb bag", "pelletized",
     {"cce_percent": "91", "passing_percent": {"8": 100, "10": 100, "20": 100, "30": 99, "40": 98, "50": 96, "60": 95, "100": 80}},
     (("at_source", "bag", "40", "lb", "1", "5.60", "package"),)),
    ("Lime suspension, 2.5-gal jug", "fluid",
     {"cce_percent": "97", "solids_percent": "50", "density_lb_per_gal": "12.2",
      "passing_percent": {"8": 100, "10": 100, "20": 100, "30": 100, "40": 100, "50": 100, "60": 100, "100": 100}},
     (("at_source", "jug", "2.5", "gal", "1", "39.00", "package"),)),
)  # fmt: skip
_FERTILIZER = (
    ("19-19-19, 50-lb bag", "19", "19", "19", "", "31.50"),
    ("Urea 46-0-0, 50-lb bag", "46", "0", "0", "urea", "27.00"),
    ("Diammonium phosphate 18-46-0, 50-lb bag", "18", "46", "0", "dap", "36.00"),
    ("Triple superphosphate 0-46-0, 50-lb bag", "0", "46", "0", "", "34.00"),
    ("Muriate of potash 0-0-60, 50-lb bag", "0", "0", "60", "", "26.50"),
    ("Ammonium sulfate 21-0-0, 50-lb bag", "21", "0", "0", "ammonium_sulfate", "22.00"),
)


def _materials(property_: Property, today: dt.date) -> dict[str, Material]:
    quarry = Supplier.objects.create(property=property_, name="Demo quarry (invented)")
    store = Supplier.objects.create(property=property_, name="Demo farm store (invented)")
    analysed = dt.date(today.year - 4, 2, 1)
    made: dict[str, Material] = {}
    for name, form, analysis, offers in _LIME:
        material = made[name] = Material.objects.create(property=property_, kind="lime", name=name, form=form)
        figures = {key: value if isinstance(value, dict) else Decimal(value) for key, value in analysis.items()}
        Analysis.objects.create(material=material, analysed_on=analysed, **figures)
        for basis, package, size, unit, least, price, per in offers:
            Offer.objects.create(
                material=material, supplier=store if package in ("bag", "jug") else quarry, basis=basis,
                package=package, package_size=Decimal(size), package_unit=unit, minimum_packages=Decimal(least),
                price=Decimal(price), price_per=per,
            )  # fmt: skip
    for name, n, p2o5, k2o, source, price in _FERTILIZER:
        material = made[name] = Material.objects.create(
            property=property_, kind="fertilizer", name=name, form="granular", nitrogen_source=source
        )
        Analysis.objects.create(
            material=material, analysed_on=analysed, n_percent=Decimal(n), p2o5_percent=Decimal(p2o5),
            k2o_percent=Decimal(k2o),
        )  # fmt: skip
        Offer.objects.create(
            material=material, supplier=store, package="bag", package_size=Decimal(50), package_unit="lb",
            price=Decimal(price), price_per="package",
        )  # fmt: skip
    return made


def _spreaders(property_: Property) -> dict[str, Spreader]:
    rows = (
        ("Three-point spinner", "tractor", "900", "36", True, 12, "5"),
        ("Side-by-side spinner", "side_by_side", "280", "20", False, 15, "2"),
        ("Hand-crank bag spreader", "on_foot", "25", "12", False, 10, "0.4"),
    )
    return {
        name: Spreader.objects.create(
            property=property_, name=name, vehicle=vehicle, hopper_lb=Decimal(hopper), swath_ft=Decimal(swath),
            has_pto=pto, minutes_per_load=minutes, acres_per_hour=Decimal(pace),
        )
        for name, vehicle, hopper, swath, pto, minutes, pace in rows
    }  # fmt: skip


def _plantings(stage: Stage, ground: Ground) -> None:
    year = stage.last_september
    components = [{"crop": crop, "share_percent": share} for crop, share in ground.crops]
    legume = any(crop_of(crop).legume
                 for crop, _ in ground.crops)  # fmt: skip
    first = season_of(year - 2 if ground.perennial else year, FALL)
    plot = stage.plots[ground.code]
    if not ground.perennial:
        before = season_of(year - 1, FALL)
        last_year = {"components": [{"crop": "cereal_rye", "share_percent": 100}], "first_season": before,
                     "last_season": season_of(year, 0), "planted_on": dt.date(year - 1, 9, 20)}  # fmt: skip
        plant(plot, last_year)
    plant(
        plot,
        {
            "components": components, "first_season": first, "last_season": None if ground.perennial else first + 1,
            "planned_on": dt.date(first // 2, 9, 15), "establishment": ground.establishment, "inoculated": legume,
            "no_till": ground.tillage != "tilled",
            "use": "grain_standing" if ground.crops[0][0] in ("corn", "soybean", "grain_sorghum") else "browsed",
        },
    )  # fmt: skip


def _tests(stage: Stage, ground: Ground) -> None:
    for years_ago, ph, buffer_ph, p_index, k_index in ground.tests:
        measured = [
            MeasurementEntry("p", str(p_index), "index", "mehlich3"),
            MeasurementEntry("k", str(k_index), "index", "mehlich3"),
            MeasurementEntry("cec", "3.1" if ground.texture == "loamy_sand" else "8.4", "meq/100 g"),
            MeasurementEntry("organic_matter", "2.1", "%"),
        ]
        enter_test(
            stage.plots[ground.code],
            lab=stage.lab,
            sample={
                "sampled_on": stage.day(years_ago, 9, 12), "depth_top_in": Decimal(0),
                "depth_bottom_in": Decimal(ground.depth_in), "label": ground.code, "cores": 15,
            },
            test={
                "ph": Decimal(ph), "ph_method": "water_1_1", "buffer_ph": Decimal(buffer_ph),
                "buffer_method": "mehlich", "reported_on": stage.day(years_ago, 9, 22),
            },
            measurements=measured,
        )  # fmt: skip


def _bad_luck_in_the_lab(stage: Stage) -> None:
    """The Notch's one sample never reached the lab."""
    sample = Sample.objects.create(
        plot=stage.plots["19"], sampled_on=stage.day(0, 9, 12), depth_bottom_in=Decimal("3.0"), label="19", cores=10
    )
    set_fate(sample, Sample.Fate.LOST, note="The bag broke on the way to the lab.")


def _spread(
    stage: Stage,
    code: str,
    material: str,
    on: dt.date,
    amount: str,
    unit: str,
    *,
    package_lb: str | None = None,
    worked_in: bool = False,
    note: str = "",
    by: Person | None = None,
) -> SpreadingRecord | None:
    """Record one dressing, unless it would lie in the future of the day the demo is made on."""
    if on > stage.today:
        return None
    plot = stage.plots[code]
    who = by or stage.cast.hand
    entered = datetime.combine(on, time(17, 30), ZoneInfo(stage.property.time_zone))
    entry = Entry(
        plot=plot, material=stage.materials[material], spread_on=on, amount=Decimal(amount), unit=unit,
        package_lb=Decimal(package_lb) if package_lb else None, area=plot.acres, entered_by=who, entered_at=entered,
        applicator=str(who), worked_in_on=on if worked_in else None,
        worked_in_depth_in=plot.depth_limed_in if worked_in else None, ground="dry", method="broadcast", note=note,
    )  # fmt: skip
    return record_spreading(entry)[0]


_QUARRY, _PELLETS = "Quarry lime, calcitic", "Pelletized lime, 40-lb bag"


def _lime_spread(stage: Stage) -> None:
    day = stage.day
    _spread(stage, "3", _QUARRY, day(3, 10, 2), "6", "ton", worked_in=True)
    _spread(stage, "5", _QUARRY, day(3, 10, 3), "3.5", "ton", worked_in=True)
    _spread(stage, "2", _QUARRY, day(1, 10, 1), "7", "ton", worked_in=True)
    _spread(stage, "2", _QUARRY, day(0, 9, 20), "6", "ton", worked_in=True)
    _spread(stage, "6", _PELLETS, day(0, 9, 18), "102", "bag", package_lb="40")
    _spread(stage, "11", _PELLETS, day(0, 9, 19), "48", "bag", package_lb="40")
    _spread(stage, "17", _PELLETS, day(1, 10, 5), "11", "bag", package_lb="40")
    for years_ago in (2, 1):
        _spread(stage, "16", _QUARRY, day(years_ago, 10, 4), "2", "ton", worked_in=True)
    misread = _spread(
        stage, "18", _PELLETS, day(1, 10, 6), "30", "bag", package_lb="40", note="Read off the wrong line."
    )
    if misread is not None:
        at = datetime.combine(day(1, 10, 7), time(8, 0), ZoneInfo(stage.property.time_zone))
        right = entry_of(misread, by=stage.cast.hand, at=at)
        correct_record(misread, Entry(**{**_fields(right), "amount": Decimal(3), "note": "It was 3 bags, not 30."}))


def _fields(entry: Entry) -> dict[str, object]:
    return {name: getattr(entry, name) for name in Entry.__slots__}


def _fertilizer_spread(stage: Stage) -> None:
    day = stage.day
    for years_ago in (2, 1, 0):
        _spread(stage, "1", "Urea 46-0-0, 50-lb bag", day(years_ago, 6, 10), "26", "bag", package_lb="50")
        _spread(stage, "8", "Ammonium sulfate 21-0-0, 50-lb bag", day(years_ago, 9, 25), "10", "bag", package_lb="50")
        _spread(stage, "4", "19-19-19, 50-lb bag", day(years_ago, 9, 24), "14", "bag", package_lb="50")
    _spread(stage, "5", "Muriate of potash 0-0-60, 50-lb bag", day(0, 4, 8), "3", "bag", package_lb="50")


def _orders(stage: Stage) -> None:
    """Two open orders that cover what their plots are owed."""
    wanted = (("4", _PELLETS, "2700"), ("8", _PELLETS, "2300"))
    for code, material, rate in wanted:
        plot = stage.plots[code]
        line = LineWanted(
            plot=plot, material=stage.materials[material], rate_lb_per_acre=Decimal(rate), acres=plot.acres,
            package_lb=Decimal(40), package_name="bag", work_in_depth_in=plot.depth_limed_in, work_in_within_days=7,
        )  # fmt: skip
        spreader = stage.spreaders["Three-point spinner" if plot.access == "tractor" else "Side-by-side spinner"]
        order = draft_work_order(
            stage.property, hand=stage.cast.hand, planned_on=stage.today + dt.timedelta(days=5), lines=[line],
            by=stage.cast.manager, spreader=spreader,
        )  # fmt: skip
        issue_work_order(order, by=stage.cast.manager)
