"""Words of lime: what a requirement is a requirement of, and what a record's nitrogen uses up."""

from __future__ import annotations

from django import template

from agronomy.acidification import Acidity
from agronomy.lime_requirement import Calibration, LimeRequirement
from agronomy.liming_material import scheme
from amendments.models import SpreadingRecord
from amendments.services.acidity import record_acidity

register = template.Library()


@register.filter
def reference_words(asked: LimeRequirement | Calibration) -> str:
    """The lime that a rate is a rate of: "lime of 100 % by Oregon lime score", "stone of CCE 90 %"."""
    value = f"{asked.reference_value_percent:g}%"
    if asked.reference_kind == "effective":
        named = scheme(asked.reference_scheme).name if asked.reference_scheme else ""
        return f"lime of {value} by {named}" if named else f"lime that is {value} effective"
    if asked.reference_kind == "cce":
        return f"fine lime of CCE {value}"
    return f"ordinary ag lime of CCE {value}"


@register.filter
def lime_used_up(record: SpreadingRecord) -> Acidity | None:
    """What the record's nitrogen uses up of lime; None where it holds no nitrogen."""
    return record_acidity(record)


@register.filter
def check_value(value: object) -> str:
    """A check row's figure with all its digits up to six, or its text."""
    return f"{value:.6g}" if isinstance(value, float) else "nothing" if value is None else str(value)
