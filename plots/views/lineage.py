"""One plot made into several, and several into one."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from plots.access import MANAGE, plot_for
from plots.forms.plots import MergeForm, SplitForm
from plots.http import done, form_page
from plots.services.lineage import merge as merge_plots
from plots.services.lineage import split as split_plot
from plots.views.common import address, no_property, plot_address, property_to_change, refused
from plots.views.plots import TAKEN_MEANWHILE


@require_http_methods(["GET", "POST"])
def split(request: HttpRequest, pk: int) -> HttpResponse:
    """Make several plots out of one, which is retired and remembered as where they came from."""
    plot = plot_for(request, pk, allowed=MANAGE)
    if plot.retired_on is not None:
        return refused(request, plot_address(plot), f"Plot {plot} is retired; bring it back before it is split.")
    form = SplitForm(request.POST or None, plot=plot)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        try:
            made = split_plot(plot, parts=form.parts, on=data["on"], keep_crop=data["keep_crop"])
        except IntegrityError:
            form.add_error(None, TAKEN_MEANWHILE)
        else:
            codes = ", ".join(part.code for part in made)
            return done(request, address("amendments:review", plot.property), f"Plot {plot.code} is now {codes}.")
    context = {"property": plot.property, "plot": plot, "back": plot_address(plot)}
    return form_page(request, "plots/split.html", form, context)


def _start(request: HttpRequest) -> dict[str, Any]:
    """What the form of a merge opens with: the plots named in the address."""
    chosen = [key for key in request.GET.getlist("plot") if key.isascii() and key.isdigit() and len(key) < 18]
    return {"plots": chosen, "on": timezone.localdate(), "keep_crop": True, "area_unit": "acre"}


@require_http_methods(["GET", "POST"])
def merge(request: HttpRequest) -> HttpResponse:
    """Make one plot out of several, which are retired and remembered."""
    property_ = property_to_change(request)
    if property_ is None:
        return no_property(request)
    form = MergeForm(request.POST or None, initial=_start(request), property_=property_)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        try:
            made = merge_plots(data["plots"], fields=form.columns(), on=data["on"], keep_crop=data["keep_crop"])
        except IntegrityError:
            form.add_error("code", TAKEN_MEANWHILE)
        else:
            codes = ", ".join(plot.code for plot in data["plots"])
            return done(request, plot_address(made), f"{codes} are now plot {made}.")
    context = {"property": property_, "address": address("plots:merge_plots", property_),
               "back": address("amendments:review", property_)}  # fmt: skip
    return form_page(request, "plots/merge.html", form, context)
