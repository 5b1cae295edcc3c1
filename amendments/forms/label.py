"""What a lime label says, typed in."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from agronomy.label_check import Label
from plots.models import Plot

INGREDIENTS = [
    ("CaCO3", "calcium carbonate, calcite (CaCO3)"),
    ("CaMg(CO3)2", "dolomite (CaMg(CO3)2)"),
    ("MgCO3", "magnesium carbonate (MgCO3)"),
    ("Ca(OH)2", "hydrated lime (Ca(OH)2)"),
    ("CaO", "burnt lime, quicklime (CaO)"),
    ("Mg(OH)2", "magnesium hydroxide (Mg(OH)2)"),
    ("MgO", "magnesium oxide (MgO)"),
    ("CaSiO3", "calcium silicate (CaSiO3)"),
    ("MgSiO3", "magnesium silicate (MgSiO3)"),
    ("K2CO3", "potassium carbonate (K2CO3)"),
    ("KOH", "potassium hydroxide (KOH)"),
    ("NaHCO3", "sodium bicarbonate (NaHCO3)"),
    ("CaCl2", "calcium chloride (CaCl2)"),
    ("CaSO4(H2O)2", "gypsum (CaSO4 with water)"),
    ("CaSO4", "calcium sulfate without water (CaSO4)"),
    ("MgSO4(H2O)7", "Epsom salt (MgSO4 with water)"),
    ("Ca(NO3)2", "calcium nitrate (Ca(NO3)2)"),
    ("MgCl2", "magnesium chloride (MgCl2)"),
    ("KCl", "potassium chloride (KCl)"),
]


def _decimal(label: str, unit: str = "", *, low: str, high: str, help_text: str = "", required: bool = False) -> Any:
    field = forms.DecimalField(
        label=label, min_value=Decimal(low), max_value=Decimal(high), max_digits=12, decimal_places=4,
        required=required, help_text=help_text,
    )  # fmt: skip
    field.unit = unit  # type: ignore[attr-defined]
    return field


class LabelForm(forms.Form):
    """One label, and the plot or the need that it is held against."""

    formula = forms.ChoiceField(label="Active ingredient", choices=INGREDIENTS)
    percent = _decimal("Its share of the weight", "%", low="0", high="100", required=True)
    contents = _decimal("Net contents of one package", low="0.0001", high="100000", required=True)
    unit = forms.ChoiceField(label="in", choices=[("lb", "lb"), ("gal", "gallons")])
    density_lb_per_gal = _decimal(
        "Weight of a gallon", "lb/gal", low="7.6", high="22.6", help_text="Only for gallons, if the label gives it."
    )
    claims_lb_lime = _decimal(
        "One package is said to equal", "lb of lime", low="0", high="1000000", help_text="Only if the label says so."
    )
    use_packages_per_acre = _decimal("Recommended use", "packages an acre", low="0", high="10000")
    price = _decimal("Price of one package", "$", low="0", high="1000000")
    plot = forms.ModelChoiceField(
        label="For the plot", queryset=Plot.objects.none(), required=False, empty_label="no plot of mine"
    )
    need_lb_per_acre = _decimal(
        "Or for a need of", "lb effective CaCO3 an acre", low="1", high="40000",
        help_text="Used only where no plot is named.",
    )  # fmt: skip
    acres = _decimal("on", "acres", low="0.001", high="2000")

    def __init__(self, *args: Any, plots: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["plot"].queryset = plots  # type: ignore[attr-defined]
        for name in ("unit", "acres"):
            self.fields[name].beside = True  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("density_lb_per_gal") and data.get("unit") == "lb":
            self.add_error("density_lb_per_gal", "The weight of a gallon belongs to contents in gallons.")
        if data.get("acres") and not data.get("need_lb_per_acre") and not data.get("plot"):
            self.add_error("need_lb_per_acre", "Acres alone say no need. Give the need an acre, or name a plot.")
        return data

    def label(self) -> Label:
        """What was typed, as the check takes it."""
        data = self.cleaned_data
        numbers = ("density_lb_per_gal", "claims_lb_lime", "use_packages_per_acre", "price")
        return Label(
            formula=data["formula"],
            percent=float(data["percent"]),
            contents=float(data["contents"]),
            unit=data["unit"],
            **{name: None if data[name] is None else float(data[name]) for name in numbers},
        )
