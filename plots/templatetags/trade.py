"""What every page says in the trade's way: quantities, days, seasons, findings, hazards, workings and sources.

Loaded as a builtin, so templates need no `{% load trade %}`.
"""

from __future__ import annotations

import datetime as dt
import html
import logging
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

from django import template
from django.forms import BaseForm, BaseFormSet, BoundField
from django.template import TemplateDoesNotExist
from django.template.loader import get_template
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html, strip_tags
from django.utils.safestring import SafeString, mark_safe

from agronomy import sources
from agronomy.findings import Finding, Hazard, Step, hazards_in_order, most_severe_first
from plots import figures
from plots.seasons import season_name

logger = logging.getLogger(__name__)
register = template.Library()

SHOWN_FIRST = 3
"""Findings shown before the rest goes under "more"."""

SEVERITIES: Mapping[str, str] = {"stop": "Stop", "check": "Check", "note": "Note"}
SIGNALS: Mapping[str, str] = {"danger": "Danger", "warning": "Warning", "caution": "Caution"}
STATUSES: Mapping[str, str] = {
    "ordered": "ordered",
    "no_test": "no test",
    "retest_due": "retest due",
    "short_of_lime": "short of lime",
    "settling": "settling",
    "over_target": "over target",
    "in_range": "in range",
}
BUFFERS: Mapping[str, str] = {
    "smp": "SMP",
    "sikora": "Sikora",
    "adams_evans": "Adams-Evans",
    "mehlich": "Mehlich",
    "modified_mehlich": "modified Mehlich",
    "woodruff": "Woodruff",
}
NOT_KNOWN = mark_safe(
    f'<span class="none"><span aria-hidden="true">{figures.NOTHING}</span><span class="sr">not known</span></span>'
)


@register.filter
def qty(value: object, how: object = "") -> str | SafeString:
    """Any quantity as people read it, or a dash that a screen reader says as "not known".

    `x|qty:"ton/acre"` writes number and unit, `x|qty:"=ton/acre"` the number alone where a column head or a line
    names the unit, `x|qty:2` the number with two decimals, `x|qty:"$"` and `x|qty:"$/ton"` money. pH is bare.
    """
    if figures.decimal_of(value) is None:
        return NOT_KNOWN
    if isinstance(how, int):
        return figures.number(value, how)
    unit = str(how)
    return figures.bare(value, unit[1:]) if unit.startswith("=") else figures.quantity(value, unit)


@register.filter
def entered(value: object, unit: str) -> str | SafeString:
    """What somebody entered, with every digit of it: `record.amount_entered|entered:record.unit_entered`."""
    return NOT_KNOWN if figures.decimal_of(value) is None else figures.as_entered(value, str(unit))


@register.filter
def unit_of(value: object, unit: str) -> str:
    """The unit's word beside a number: "bag" for 1, "bags" for 6."""
    return figures.unit_word(unit, figures.bare(value, unit))


@register.filter
def season(value: object) -> str | SafeString:
    """A season's number (2 x year + half) as "Fall 2026"."""
    return season_name(int(value)) if isinstance(value, int) else NOT_KNOWN


def as_day(value: object) -> dt.date | None:
    """A date from a date, a datetime or its ISO text; None for anything else."""
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, dt.date):
        return value
    try:
        return dt.date.fromisoformat(str(value))
    except ValueError:
        return None


def day_words(found: dt.date, form: str = "") -> str:
    """A day as "Mar 20, 2026"; form "long" with the whole month and "month" without the day."""
    if form == "long":
        return f"{found:%B} {found.day}, {found.year}"
    if form == "month":
        return f"{found:%b} {found.year}"
    return f"{found:%b} {found.day}, {found.year}"


@register.simple_tag
def day(value: object, form: str = "") -> SafeString:
    """A date as a `<time>` element; forms "", "long" and "month"; a dash for none."""
    found = as_day(value)
    if found is None:
        return NOT_KNOWN
    return format_html('<time datetime="{}">{}</time>', found.isoformat(), day_words(found, form))


@register.filter
def age(value: object, today: object) -> str | SafeString:
    """How long ago a day was, as people say it: "today", "9 days", "14 months", "6 years"; a dash for none."""
    then, now = as_day(value), as_day(today)
    if then is None or now is None:
        return NOT_KNOWN
    days = (now - then).days
    if days < 0:
        return f"in {_span(-days)}"
    return _span(days) if days else "today"


def _span(days: int) -> str:
    """Days up to two months, then months up to three years, then years; whole ones that have passed."""
    if days < 61:
        return figures.quantity(days, "day")
    months = int(days / 30.436875)
    return figures.quantity(months, "month") if months < 36 else figures.quantity(months // 12, "year")


def _sentence(folder: str, code: str, values: Mapping[str, Any]) -> SafeString:
    try:
        written = get_template(f"{folder}/{code}.txt").render(dict(values))
    except TemplateDoesNotExist:
        # A number must not vanish because its sentence was forgotten; a house test finds the missing file.
        logger.error("no sentence %s/%s.txt", folder, code)
        told = "; ".join(f"{name.replace('_', ' ')} {value}" for name, value in values.items())
        return format_html("{}{}", code.replace("_", " ").capitalize(), f": {told}." if told else ".")
    return mark_safe(" ".join(written.split()))


def finding_sentence(finding: Finding) -> SafeString:
    """The finding in words, for a page."""
    return _sentence("findings", finding.code, finding.values)


def hazard_sentence(hazard: Hazard) -> SafeString:
    """The hazard in words, for a page."""
    return _sentence("hazards", hazard.code, {"signal": hazard.signal})


def plain(sentence: str) -> str:
    """A sentence without markup, for mails, calendars and exports."""
    return html.unescape(strip_tags(sentence))


@register.filter
def sentence(item: Finding | Hazard) -> SafeString:
    """A finding or a hazard in words."""
    return hazard_sentence(item) if isinstance(item, Hazard) else finding_sentence(item)


@register.inclusion_tag("parts/finding.html")
def finding(item: Finding) -> dict[str, Any]:
    """One finding: severity word and mark, sentence, source. Stands in `<ul class="findings">`."""
    return {"finding": item, "word": SEVERITIES[item.severity], "sentence": finding_sentence(item)}


@register.inclusion_tag("parts/findings.html")
def findings(items: Iterable[Finding], label: str = "") -> dict[str, Any]:
    """All findings, most severe first: three shown, the rest under "more"; every stop is among the shown."""
    ordered = most_severe_first(items)
    shown = max(SHOWN_FIRST, sum(item.severity == "stop" for item in ordered))
    return {"first": ordered[:shown], "rest": ordered[shown:], "label": label}


@register.inclusion_tag("parts/hazard.html")
def hazard(item: Hazard) -> dict[str, Any]:
    """One hazard: signal word, mark, sentence, source. Stands in `<ul class="hazards">`."""
    return {"hazard": item, "word": SIGNALS[item.signal], "sentence": hazard_sentence(item)}


@register.inclusion_tag("parts/hazards.html")
def hazards(items: Iterable[Hazard]) -> dict[str, Any]:
    """All hazards, danger first, never folded away."""
    return {"hazards": hazards_in_order(items)}


@register.inclusion_tag("parts/working.html")
def working(steps: Sequence[Step], label: str = "How this was worked out") -> dict[str, Any]:
    """The arithmetic line by line, each with its result, unit and source."""
    return {"steps": steps, "label": label}


@lru_cache(maxsize=1)
def _sources_address() -> str:
    try:
        return reverse("sources")
    except NoReverseMatch:
        return ""


@register.inclusion_tag("parts/source.html")
def source(key: str) -> dict[str, Any]:
    """A source's citation and status with a link to its place on the sources page; nothing for no key."""
    if not key:
        return {"source": None}
    found = sources.source(key)
    return {
        "source": found,
        "address": _sources_address(),
        "unsure": found.status in ("second-hand", "from memory"),
    }


@register.inclusion_tag("parts/status.html")
def status(key: str, count: int | None = None) -> dict[str, Any]:
    """A plot's status: its shape and its word, with a count before the word if given."""
    return {"key": key, "word": STATUSES.get(key, key.replace("_", " ")), "count": count}


@register.inclusion_tag("parts/stat.html")
def stat(label: str, value: object, unit: str = "", note: str = "") -> dict[str, Any]:
    """One figure with its unit and a line on what it means. Stands in `<dl class="figures">`."""
    known = figures.decimal_of(value) is not None
    written = figures.bare(value, unit) if known else NOT_KNOWN
    word = "" if not known or unit in ("pH", "") or unit == "$" else figures.unit_word(unit, str(written))
    if unit.startswith("$/"):
        word = unit[1:]
    return {"label": label, "value": written, "unit": word if known else "", "note": note}


@register.filter
def field_unit(field: BoundField) -> str:
    """The unit that a form field is entered in: its `unit` attribute, else its widget's `data-unit`."""
    return str(getattr(field.field, "unit", "") or field.field.widget.attrs.get("data-unit", ""))


def _field_errors(form: BaseForm, row: str = "") -> list[tuple[str, str, str]]:
    return [
        (field.id_for_label or f"{field.auto_id}_0", f"{row}{field.label}", str(error))
        for field in form
        for error in field.errors
    ]


@register.inclusion_tag("form/errors.html")
def form_errors(form: BaseForm | BaseFormSet[Any]) -> dict[str, Any]:
    """The summary of what was refused, each with a link to its field; nothing while all is well or unbound."""
    if isinstance(form, BaseFormSet):
        forms = list(enumerate(form.forms, start=1))
        others = [*form.non_form_errors(), *(error for _, part in forms for error in part.non_field_errors())]
        return {"errors": [e for row, part in forms for e in _field_errors(part, f"Row {row}, ")], "others": others}
    hidden = [f"{field.label}: {error}" for field in form.hidden_fields() for error in field.errors]
    shown = [entry for entry in _field_errors(form) if entry[1] not in {f.label for f in form.hidden_fields()}]
    return {"errors": shown, "others": [*form.non_field_errors(), *hidden]}


@register.inclusion_tag("parts/picture.html")
def picture(made: Any, table: bool = True) -> dict[str, Any]:
    """A picture made by `plots.pictures`, with its description and, unless told not to, its table of figures."""
    return {"picture": made, "table": table}


@register.filter
def buffer_name(key: str) -> str:
    """A buffer as laboratories call it."""
    return BUFFERS.get(key, key.replace("_", " "))
