"""Materials, their analyses, offers, spreaders and what is on hand, as forms."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from agronomy.liming_material import FORMS, checked_cce, checked_moisture, checked_sieves, schemes
from amendments.models import Analysis, Material, Offer, Spreader, StockCount, Supplier
from amendments.services.materials import AMOUNT_UNITS, pounds
from plots.models import Property, Vehicle

LIME_FORM_NAMES = {
    "quarry": "quarry lime (ag lime)", "pelletized": "pelletized lime", "fluid": "lime suspension (fluid lime)",
    "dolomitic": "dolomitic quarry lime", "hydrated": "hydrated lime, caustic", "burnt": "burnt lime, caustic",
    "wood_ash": "wood ash, caustic", "marl": "marl", "slag": "slag", "shells": "shells",
    "gypsum": "gypsum, no liming value", "salt": "salt (as calcium chloride), no liming value", "other": "other",
}  # fmt: skip
FERTILIZER_FORM_NAMES = {"granular": "granular, in bags or bulk", "liquid": "liquid", "manure": "manure or litter"}
NITROGEN_SOURCES = {
    "": "no nitrogen, or not known", "urea": "urea", "ammonium_nitrate": "ammonium nitrate",
    "ammonium_sulfate": "ammonium sulfate", "uan": "UAN solution",
    "calcium_ammonium_nitrate": "calcium ammonium nitrate",
    "map": "monoammonium phosphate (MAP)", "dap": "diammonium phosphate (DAP)",
    "calcium_nitrate": "calcium nitrate", "potassium_nitrate": "potassium nitrate", "manure": "manure or litter",
}  # fmt: skip
SIEVES = (4, 8, 10, 20, 30, 40, 50, 60, 100)
OTHER_NUTRIENTS = ("mg", "s", "ca", "b", "zn", "mn", "cu")


class MaterialForm(forms.ModelForm):  # type: ignore[type-arg]
    """What a product is. What it contains is in its analyses."""

    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Material
        fields = ["kind", "name", "form", "nitrogen_source", "caustic_allowed", "note"]
        labels = {"caustic_allowed": "Caustic lime: I allow this material by name"}
        help_texts = {"name": "What it is and how it is packed; no brand is needed."}

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.property = property_
        self.fields["form"] = forms.ChoiceField(
            label="Form",
            choices=[("Lime", [(key, LIME_FORM_NAMES[key]) for key in FORMS]),
                     ("Fertilizer", list(FERTILIZER_FORM_NAMES.items()))],
        )  # fmt: skip
        self.fields["nitrogen_source"] = forms.ChoiceField(
            label="Nitrogen comes as", required=False, choices=list(NITROGEN_SOURCES.items()),
            help_text="It decides how much lime the nitrogen uses up.",
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        kind, form = data.get("kind"), data.get("form")
        forms_of = LIME_FORM_NAMES if kind == Material.Kind.LIME else FERTILIZER_FORM_NAMES
        if kind and form and form not in forms_of:
            self.add_error("form", f"This is not a form of {kind}; allowed are {', '.join(forms_of.values())}.")
        name, same = data.get("name"), Material.objects.filter(property=self.instance.property)
        if name and same.filter(name=name).exclude(pk=self.instance.pk).exists():
            self.add_error("name", f"There is a material named {name} already.")
        return data


class AnalysisForm(forms.ModelForm):  # type: ignore[type-arg]
    """One dated analysis, by lime or fertilizer. Sieves as percent passing, coarse to fine."""

    class Meta:
        model = Analysis
        fields = [
            "analysed_on", "lot", "cce_percent", "moisture_percent", "solids_percent", "density_lb_per_gal",
            "bulk_density_lb_per_ft3", "n_percent", "p2o5_percent", "k2o_percent",
        ]  # fmt: skip
        widgets = {"analysed_on": forms.DateInput(attrs={"type": "date"})}
        labels = {
            "analysed_on": "Analysed on", "cce_percent": "Calcium carbonate equivalent (CCE)",
            "moisture_percent": "Moisture", "solids_percent": "Solids, of a suspension",
            "density_lb_per_gal": "Weight per gallon", "bulk_density_lb_per_ft3": "Bulk density",
            "n_percent": "N", "p2o5_percent": "P2O5", "k2o_percent": "K2O",
        }  # fmt: skip

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.material = material
        self.material = material
        lime = material.kind == Material.Kind.LIME
        drop = ("n_percent", "p2o5_percent", "k2o_percent") if lime else ("cce_percent", "solids_percent")
        for name in drop:
            del self.fields[name]
        for name, field in self.fields.items():
            unit = "%" if name.endswith("percent") else {"density_lb_per_gal": "lb/gal",
                                                         "bulk_density_lb_per_ft3": "lb/ft3"}.get(name)  # fmt: skip
            field.unit = unit  # type: ignore[attr-defined]
        if lime:
            self._add_lime_fields()
        self._add_other(("mg",) if lime else OTHER_NUTRIENTS)

    def _percent(self, name: str, label: str, most: int = 100) -> None:
        field = forms.DecimalField(
            label=label, required=False, min_value=0, max_value=most, max_digits=7, decimal_places=2
        )
        field.unit = "%"  # type: ignore[attr-defined]
        self.fields[name] = field

    def _add_lime_fields(self) -> None:
        for mesh in SIEVES:
            self._percent(f"sieve_{mesh}", f"Passing {mesh} mesh")
        for key, scheme in schemes().items():
            self._percent(f"stated_{key}", f"{scheme.name}, as the label states it", 2500 if scheme.per_ton else 250)
            self.fields[f"stated_{key}"].unit = "lb/ton" if scheme.per_ton else "%"  # type: ignore[attr-defined]

    def _add_other(self, names: tuple[str, ...]) -> None:
        for name in names:
            self._percent(f"other_{name}", name.capitalize())

    def clean_analysed_on(self) -> dt.date:
        day: dt.date = self.cleaned_data["analysed_on"]
        if day > timezone.localdate():
            raise forms.ValidationError(f"{day:%B %-d, %Y} is in the future.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        sieves = {mesh: data[f"sieve_{mesh}"] for mesh in SIEVES if data.get(f"sieve_{mesh}") is not None}
        try:
            checked_sieves([(float(mesh), float(share)) for mesh, share in sieves.items()])
        except ValueError as error:
            self.add_error(None, f"Impossible sieve analysis: {error}.")
        if data.get("cce_percent") is not None:
            try:
                checked_cce(float(data["cce_percent"]), form=self.material.form)
            except ValueError as error:
                self.add_error("cce_percent", f"{str(error)[0].upper()}{str(error)[1:]}.")
        if data.get("moisture_percent") is not None:
            try:
                checked_moisture(float(data["moisture_percent"]))
            except ValueError as error:
                self.add_error("moisture_percent", f"{str(error)[0].upper()}{str(error)[1:]}.")
        same = Analysis.objects.filter(
            material=self.material, analysed_on=data.get("analysed_on"), lot=data.get("lot", "")
        )
        if data.get("analysed_on") and same.exclude(pk=self.instance.pk).exists():
            self.add_error("lot", "There is an analysis of this day and lot already; give this lot another name.")
        return data

    def analysis_fields(self) -> dict[str, Any]:
        """The columns of `Analysis`."""
        data = self.cleaned_data
        plain = {name: data[name] for name in self.Meta.fields if name in data}
        for name in ("moisture_percent", "n_percent", "p2o5_percent", "k2o_percent"):
            if name in plain and plain[name] is None:
                plain[name] = Decimal(0)
        return plain | {
            "passing_percent": _stored(data, "sieve_"),
            "declared_values": _stored(data, "stated_"),
            "other_percent": _stored(data, "other_"),
        }


def _stored(data: dict[str, Any], prefix: str) -> dict[str, float]:
    return {
        name.removeprefix(prefix): float(value)
        for name, value in data.items()
        if name.startswith(prefix) and value is not None
    }


class OfferForm(forms.ModelForm):  # type: ignore[type-arg]
    """A material at a price, in a package."""

    supplier_name = forms.CharField(label="Supplier", max_length=100, required=False)
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Offer
        fields = [
            "basis", "package", "package_size", "package_unit", "minimum_packages", "price", "price_per", "valid_from",
            "valid_to", "note",
        ]  # fmt: skip
        widgets = {
            "valid_from": forms.DateInput(attrs={"type": "date"}),
            "valid_to": forms.DateInput(attrs={"type": "date"}),
        }
        labels = {
            "package_size": "One package holds", "package_unit": "measured in",
            "minimum_packages": "Least that is sold",
            "price": "Price", "price_per": "for one", "valid_from": "Holds from", "valid_to": "Holds to",
        }  # fmt: skip

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.material = material
        self.material = material
        self.fields["price"].unit = "dollars"  # type: ignore[attr-defined]
        self.fields["minimum_packages"].unit = "packages"  # type: ignore[attr-defined]
        self.fields["package_unit"] = forms.ChoiceField(
            label="measured in",
            choices=[("lb", "lb"), ("ton", "tons"), ("gal", "gallons"), ("kg", "kg"), ("t", "tonnes (t)")],
        )
        self.fields["price_per"] = forms.ChoiceField(
            label="for one", choices=[("package", "package"), ("ton", "ton"), ("lb", "lb"), ("gal", "gallon")]
        )
        if self.instance.supplier_id:
            self.fields["supplier_name"].initial = self.instance.supplier.name
        self.order_fields(["supplier_name"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        start, end = data.get("valid_from"), data.get("valid_to")
        if start and end and end < start:
            self.add_error("valid_to", f"The offer ends on {end} before it begins on {start}.")
        if data.get("package_unit") == "gal" and not self._density():
            self.add_error("package_unit", "Gallons need the weight per gallon (lb/gal) in the material's analysis.")
        if data.get("price_per") == "gal" and data.get("package_unit") != "gal":
            self.add_error("price_per", "A price for one gallon needs a package measured in gallons.")
        return data

    def _density(self) -> Decimal | None:
        newest = self.material.analyses.exclude(density_lb_per_gal=None).first()
        return newest.density_lb_per_gal if newest else None

    def supplier(self) -> Supplier | None:
        """The supplier named, made if it is new."""
        name = self.cleaned_data["supplier_name"].strip()
        if not name:
            return None
        return Supplier.objects.get_or_create(property=self.material.property, name=name)[0]


class SpreaderForm(forms.ModelForm):  # type: ignore[type-arg]
    class Meta:
        model = Spreader
        fields = [
            "name", "vehicle", "hopper_lb", "hopper_ft3", "swath_ft", "minutes_per_load", "acres_per_hour", "has_pto",
        ]  # fmt: skip
        labels = {
            "hopper_lb": "Hopper holds", "hopper_ft3": "or by volume", "swath_ft": "Swath",
            "minutes_per_load": "Loading and driving for one load", "acres_per_hour": "Spreads",
            "has_pto": "Driven by a PTO",
        }  # fmt: skip

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.property = property_
        self.fields["vehicle"] = forms.ChoiceField(label="Carried or drawn by", choices=Vehicle.choices)
        units = {"hopper_lb": "lb", "hopper_ft3": "ft3", "swath_ft": "ft", "minutes_per_load": "minutes",
                 "acres_per_hour": "acres/hour"}  # fmt: skip
        for name, unit in units.items():
            self.fields[name].unit = unit  # type: ignore[attr-defined]

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        same = Spreader.objects.filter(property=self.instance.property, name=name).exclude(pk=self.instance.pk)
        if same.exists():
            raise forms.ValidationError(f"There is a spreader named {name} already.")
        return name


class StockForm(forms.ModelForm):  # type: ignore[type-arg]
    """What was counted on hand, or what came in."""

    class Meta:
        model = StockCount
        fields = ["counted_on", "amount_entered", "unit_entered", "package_lb", "is_receipt"]
        widgets = {"counted_on": forms.DateInput(attrs={"type": "date"})}
        labels = {
            "counted_on": "Counted on", "amount_entered": "Amount", "unit_entered": "counted in",
            "package_lb": "Weight of one", "is_receipt": "This came in, on top of what was there",
        }  # fmt: skip

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.material = material
        self.material = material
        self.fields["package_lb"].unit = "lb"  # type: ignore[attr-defined]
        self.fields["unit_entered"] = forms.ChoiceField(label="counted in", choices=[(u, u) for u in AMOUNT_UNITS])
        self.fields["amount_entered"].min_value = 0  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("amount_entered") is not None and data["amount_entered"] < 0:
            self.add_error("amount_entered", "There cannot be less than nothing; allowed are 0 and more.")
        if self.errors:
            return data
        newest = self.material.analyses.exclude(density_lb_per_gal=None).first()
        try:
            self.instance.amount_lb = pounds(
                data["amount_entered"], data["unit_entered"], package_lb=data.get("package_lb"),
                lb_per_gal=newest.density_lb_per_gal if newest else None,
            )  # fmt: skip
        except ValueError as error:
            self.add_error("unit_entered", f"{str(error)[0].upper()}{str(error)[1:]}.")
        return data
