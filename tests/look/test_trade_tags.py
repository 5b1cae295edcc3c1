"""The tags and filters that pages speak with."""

from __future__ import annotations

import datetime as dt
import logging

import pytest
from bs4 import BeautifulSoup
from django import forms
from django.template import Context, Template
from django.test import override_settings

from agronomy.findings import Finding, Hazard, Step, check, note, stop
from plots.templatetags import trade

NO_BREAK = "\u00a0"


def rendered(text: str, **context: object) -> str:
    return Template("{% load trade %}" + text).render(Context(context))


def soup(text: str, **context: object) -> BeautifulSoup:
    return BeautifulSoup(rendered(text, **context), "html.parser")


def test_qty_forms() -> None:
    assert rendered('{{ x|qty:"ton/acre" }}', x=2.8) == f"2.8{NO_BREAK}ton/acre"
    assert rendered('{{ x|qty:"=ton/acre" }}', x=2.8) == "2.8"
    assert rendered("{{ x|qty:2 }}", x=2.8) == "2.80"
    assert rendered("{{ x|qty:0 }}", x=1234.5) == "1,235"
    assert rendered('{{ x|qty:"$" }}', x=12) == "$12.00"
    assert rendered("{{ x|qty }}", x=1.25) == "1.25"
    assert rendered('{{ x|entered:"ton" }}', x=24.755) == f"24.755{NO_BREAK}tons"
    assert "not known" in rendered('{{ x|entered:"ton" }}', x=None)


def test_qty_of_nothing_is_said_aloud() -> None:
    found = soup('{{ x|qty:"lb" }}', x=None)
    assert found.select_one("[aria-hidden=true]").text == "—"
    assert found.select_one(".sr").text == "not known"


def test_qty_escapes_a_strange_unit() -> None:
    assert "<b>" not in rendered("{{ x|qty:unit }}", x=1, unit="<b>")


def test_season_and_days() -> None:
    assert rendered("{{ s|season }}", s=2 * 2026 + 1) == "Fall 2026"
    assert rendered("{{ s|season }}", s=2 * 2027) == "Spring 2027"
    assert rendered("{% day d %}", d=dt.date(2026, 3, 2)) == '<time datetime="2026-03-02">Mar 2, 2026</time>'
    assert "September 1, 2027" in rendered('{% day d "long" %}', d="2027-09-01")
    assert ">Sep 2027<" in rendered('{% day d "month" %}', d=dt.datetime(2027, 9, 1, 8))
    assert "not known" in rendered("{% day d %}", d=None)
    assert "not known" in rendered("{% day d %}", d="2027-13-01")


@pytest.mark.parametrize(
    ("then", "said"),
    [
        ("2026-09-10", "today"),
        ("2026-09-09", "1 day"),
        ("2026-07-20", "52 days"),
        ("2025-07-09", "14 months"),
        ("2023-09-01", "3 years"),
        ("2026-09-20", "in 10 days"),
    ],
)
def test_age(then: str, said: str) -> None:
    assert rendered("{{ d|age:t }}", d=then, t=dt.date(2026, 9, 10)).replace(NO_BREAK, " ") == said


def test_status_has_a_word_and_a_shape() -> None:
    for key, word in trade.STATUSES.items():
        found = soup("{% status key %}", key=key)
        assert found.select_one(".word").text == word
        assert found.select_one("use")["href"].endswith(f"#{key}")
        assert found.select_one("svg")["aria-hidden"] == "true"
    assert soup("{% status 'ordered' 3 %}").text.strip() == "3 ordered"


OWN_SENTENCES = {
    "findings/own.txt": '{% load trade %}Rate {{ rate|qty:"lb/acre" }} on\n {{ plot }}.\n',
    "hazards/own_hazard.txt": "Keep it off skin and eyes.",
}
OWN_TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "OPTIONS": {
            "builtins": ["plots.templatetags.trade"],
            "loaders": [
                ("django.template.loaders.locmem.Loader", OWN_SENTENCES),
                ("django.template.loaders.filesystem.Loader", ["templates"]),
            ],
        },
    }
]


@override_settings(TEMPLATES=OWN_TEMPLATES)
def test_a_finding_says_its_sentence_with_its_values() -> None:
    item = check("own", rate=1966.3, plot="<Owl> & Co")
    found = soup("{% finding item %}", item=item)
    assert found.select_one("li")["class"] == ["finding", "finding-check"]
    assert found.select_one(".severity").text == "Check."
    assert "Rate 1,966 lb/acre on <Owl> & Co." in found.text.replace(NO_BREAK, " ")
    assert found.select_one("owl") is None  # escaped
    assert trade.plain(trade.finding_sentence(item)).replace(NO_BREAK, " ") == "Rate 1,966 lb/acre on <Owl> & Co."


@override_settings(TEMPLATES=OWN_TEMPLATES)
def test_hazards_are_all_shown_danger_first_and_never_folded() -> None:
    hazards = [Hazard("caution", "own_hazard"), *(Hazard("danger", f"other_{n}") for n in range(6))]
    found = soup("{% hazards items %}", items=hazards)
    signals = [item.text for item in found.select(".signal")]
    assert signals == ["Danger:"] * 6 + ["Caution:"]
    assert found.select_one("details") is None
    assert "Keep it off skin and eyes." in found.text


def test_a_forgotten_sentence_does_not_hide_the_finding(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.ERROR):
        found = soup("{% finding item %}", item=stop("no_such_sentence", value=4.2))
    assert "No such sentence: value 4.2." in found.text
    assert "findings/no_such_sentence.txt" in caplog.text


def test_at_most_three_findings_first_unless_more_are_stops() -> None:
    mixed: list[Finding] = [note(f"n{i}") for i in range(4)] + [check("c"), stop("s")]
    found = soup("{% findings items %}", items=mixed)
    outside = [item for item in found.select("li.finding") if item.find_parent("details") is None]
    assert [item["class"][1] for item in outside] == ["finding-stop", "finding-check", "finding-note"]
    assert len(found.select("details li.finding")) == 3
    assert "3 more" in found.select_one("summary").text

    stops = soup("{% findings items %}", items=[stop(f"s{i}") for i in range(5)])
    assert len(stops.select("li.finding")) == 5
    assert stops.select_one("details") is None
    assert rendered("{% findings items %}", items=[]).strip() == ""


def test_a_working_shows_each_line_with_result_unit_and_source() -> None:
    key = next(iter(trade.sources.sources()))
    steps = (
        Step("Table", "", 2.8, "ton/acre", key),
        Step("Looked up"),
        Step("Material", "2.8 / 0.627", 4.4657, "ton/acre"),
    )
    found = soup("{% working steps %}", steps=steps)
    lines = found.select("ol.working > li")
    assert [line.select_one(".result").text for line in lines] == [
        f"2.8{NO_BREAK}ton/acre",
        "",
        f"4.47{NO_BREAK}ton/acre",
    ]
    assert lines[2].select_one(".formula").text == "2.8 / 0.627"
    assert lines[0].select_one("cite") is not None
    assert lines[1].select_one("cite") is None


def test_a_source_says_its_citation_and_status() -> None:
    for key, entry in list(trade.sources.sources().items())[:5]:
        found = soup("{% source key %}", key=key)
        assert entry.citation in found.text
        assert f"({entry.status})" in found.text
    assert rendered("{% source '' %}").strip() == ""
    with pytest.raises(ValueError, match="no source"):
        rendered("{% source 'nowhere' %}")


def test_stat() -> None:
    found = soup('{% stat "Bags" 10 "bag" "of 40 lb" %}')
    assert (found.dt.text, found.dd.text) == ("Bags", "10 bags of 40 lb")
    assert soup('{% stat "pH" 5.85 "pH" %}').dd.text == "5.85"
    assert soup('{% stat "Cost" 12 "$/acre" %}').dd.text == "$12.00 /acre"
    assert "not known" in soup('{% stat "Spread" none "lb" %}', none=None).dd.text


class Form(forms.Form):
    ph = forms.DecimalField(label="pH", help_text="In water.", max_value=10)
    amount = forms.DecimalField(label="Spread")
    worked_in = forms.ChoiceField(label="Worked in", choices=[("y", "yes"), ("n", "no")], widget=forms.RadioSelect)
    wind = forms.BooleanField(label="Wind", required=False)
    note = forms.CharField(label="Note", required=False)
    uuid = forms.UUIDField(label="Number", widget=forms.HiddenInput)

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].unit = "bags"
        self.fields["ph"].widget.attrs["data-unit"] = "pH units"


def test_fields_tie_label_help_unit_and_error_together() -> None:
    form = Form({"ph": "11", "uuid": "x"})
    for part in (
        '{% include "form/fields.html" %}',
        "{% for field in form.visible_fields %}{{ field.as_field_group }}{% endfor %}",
    ):
        found = soup(part, form=form)
        ph = found.select_one("#id_ph")
        assert ph["aria-invalid"] == "true"
        described = ph["aria-describedby"].split()
        texts = [found.find(id=name).text.strip() for name in described]
        assert texts == ["In water.", "Ensure this value is less than or equal to 10."]
        label = found.select_one("label[for=id_ph]")
        assert label.text.strip() == "pH, in pH units"
        assert found.select_one("label[for=id_note] .optional") is not None
        assert found.select_one("#id_amount").find_next_sibling(class_="unit").text == "bags"
        assert found.select_one("fieldset legend").text.strip() == "Worked in"
        assert found.select_one("label[for=id_wind]").text.strip() == "Wind"


def test_the_error_summary_links_to_each_field() -> None:
    form = Form({"ph": "11", "uuid": "x"})
    form.add_error(None, "Nothing was saved.")
    page = soup('{% include "form/form.html" %}', form=form)
    summary = page.select_one("#errors")
    assert summary["role"] == "alert"
    assert summary["tabindex"] == "-1"
    for link in summary.select("a"):
        assert page.find(id=link["href"][1:]) is not None, link
    assert [link.text for link in summary.select("a")] == ["pH", "Spread", "Worked in"]
    assert "Nothing was saved." in summary.text
    assert "Number:" in summary.text  # a hidden field has nowhere to link to
    assert rendered("{% form_errors form %}", form=Form()).strip() == ""


def test_the_error_summary_of_a_formset_names_the_row() -> None:
    many = forms.formset_factory(Form, extra=2)
    data = {"form-TOTAL_FORMS": "2", "form-INITIAL_FORMS": "0", "form-0-ph": "6", "form-1-ph": "11"}
    found = soup("{% form_errors form %}", form=many(data))
    assert "Row 2, pH" in [link.text for link in found.select("a")]
