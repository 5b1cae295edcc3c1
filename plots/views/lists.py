"""Lists of plots in and out, and who changed what."""

from __future__ import annotations

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from plots.access import MANAGE, plot_for, property_for
from plots.forms.plot_import import read_plots
from plots.http import done
from plots.services.history import changes_of_plot, changes_of_property
from plots.services.plots import create_plots
from plots.tables import Unreadable, csv_text, decoded, rows_of

PAGE_LENGTH = 50


class ImportForm(forms.Form):
    """A file, or the table pasted."""

    file = forms.FileField(label="File", required=False, help_text="CSV, its first row naming the columns.")
    pasted = forms.CharField(
        label="or paste the table here", required=False, strip=False, widget=forms.Textarea(attrs={"rows": 8})
    )
    confirm = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def clean(self) -> dict[str, object]:
        data = super().clean() or {}
        file = data.get("file")
        try:
            text = decoded(file.read()) if file else str(data.get("pasted") or "")
            data["table"], data["pasted"] = rows_of(text), text
        except Unreadable as error:
            self.add_error("file" if file else "pasted", str(error))
        return data


@require_http_methods(["GET", "POST"])
def import_plots(request: HttpRequest) -> HttpResponse:
    """Show what a table of plots would add; add it all once it is confirmed."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = ImportForm(request.POST or None, request.FILES or None)
    context = {"property": property_, "form": form, "rows": None}
    if not form.is_bound or not form.is_valid():
        return render(request, "plots/import.html", context, status=422 if form.is_bound else 200)
    try:
        rows = read_plots(property_, form.cleaned_data["table"])
    except ValueError as error:
        form.add_error(None, str(error))
        return render(request, "plots/import.html", context, status=422)
    wrong = sum(bool(row.problems) for row in rows)
    if form.cleaned_data["confirm"] and not wrong:
        made = create_plots(property_, [row.fields for row in rows])
        return done(request, f"{reverse('amendments:review')}?property={property_.code}", f"{len(made)} plots added.")
    context |= {"rows": rows, "wrong": wrong, "pasted": form.cleaned_data["pasted"]}
    return render(request, "plots/import.html", context, status=422 if wrong else 200)


@require_GET
def export_plots(request: HttpRequest) -> HttpResponse:
    """The plots of a property as CSV, in the form that the import reads."""
    property_ = property_for(request)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    head = ["code", "name", "area", "area unit", "texture", "tillage", "depth limed", "access", "near water", "note"]
    rows = [
        [p.code, p.name, p.area_entered.normalize(), p.area_unit, p.texture, p.get_tillage_display(), p.depth_limed_in,
         p.get_access_display(), "yes" if p.near_water else "no", p.note]
        for p in property_.plots.in_use()
    ]  # fmt: skip
    response = HttpResponse(csv_text(head, rows), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="plots.csv"'
    return response


@require_GET
def plot_history(request: HttpRequest, pk: int) -> HttpResponse:
    """Who changed what on a plot."""
    plot = plot_for(request, pk)
    page = Paginator(changes_of_plot(plot.pk), PAGE_LENGTH).get_page(request.GET.get("page"))
    return render(request, "plots/history.html", {"property": plot.property, "plot": plot, "page": page})


@require_GET
def history(request: HttpRequest) -> HttpResponse:
    """Who changed what on a property."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    page = Paginator(changes_of_property(property_.pk), PAGE_LENGTH).get_page(request.GET.get("page"))
    return render(request, "plots/history.html", {"property": property_, "page": page})
