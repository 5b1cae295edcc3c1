"""Words that need a catalogue: crops, analytes, extractants, and how old a test is."""

from __future__ import annotations

import datetime as dt

from django import template

from agronomy.crops import crop_name as named
from agronomy.liming_material import schemes
from agronomy.nutrients import NUTRIENT_NAMES
from soiltests.analytes import ANALYTES, EXTRACTANTS

register = template.Library()


@register.filter
def crop_name(key: str) -> str:
    """A crop's name; a key of the manager's own crop as words."""
    return named(key)


@register.filter
def analyte_name(key: str) -> str:
    """An analyte as a table's cell has it: "P", "CEC"."""
    if key not in ANALYTES:
        return key
    name = ANALYTES[key].name
    return name[name.index("(") + 1 : name.index(")")] if "(" in name else name


@register.filter
def extractant_name(key: str) -> str:
    return EXTRACTANTS.get(key, key)


@register.filter
def age(day: dt.date, today: dt.date) -> str:
    """How long ago, in the unit a person would use."""
    days = (today - day).days
    for length, unit in ((365.25, "year"), (30.44, "month"), (7, "week")):
        if days >= 2 * length or (unit == "week" and days >= length):
            count = round(days / length)
            return f"{count} {unit}{'' if count == 1 else 's'} ago"
    return f"{days} day{'' if days == 1 else 's'} ago"


@register.filter
def nutrient_name(key: str) -> str:
    """A nutrient as labels and reports write it: "P2O5"."""
    return NUTRIENT_NAMES.get(key, key)  # type: ignore[call-overload]


@register.filter
def scheme_name(key: str) -> str:
    """A scheme of effective values as its state calls it."""
    found = schemes().get(key)
    return found.name if found else key


RANGE_BASES = {
    "reading_error": "if the buffer reading is off by 0.1 either way",
    "acidity_error": "if the laboratory's figure is off by a tenth either way",
    "estimate_third": "an estimate, taken as a third off either way",
    "at_target": "nothing is asked",
    "lab_line_quarter": "the laboratory's line, taken as a quarter off either way",
    "season_limit": "as much as a season allows without a better reading",
}


@register.filter
def range_basis(key: str) -> str:
    """How the range of a rate was made."""
    return RANGE_BASES.get(key, "as the laboratory printed it")
