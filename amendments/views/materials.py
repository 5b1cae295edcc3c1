"""Materials, analyses, offers, spreaders and stock."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from amendments.forms.materials import AnalysisForm, MaterialForm, OfferForm, SpreaderForm, StockForm
from amendments.models import Analysis, Material, Offer, Spreader
from amendments.services.materials import add_analysis, retire_material, save_material, save_offer
from plots.access import MANAGE, fetch, may, property_for
from plots.http import CHANGED_MEANWHILE, done, form_page
from plots.models import Property
from plots.services.plots import Stale


def list_address(property_: Property) -> str:
    return f"{reverse('amendments:materials')}?property={property_.code}"


@require_GET
def materials(request: HttpRequest) -> HttpResponse:
    """Every material of a property with its newest analysis, its offers and what is on hand."""
    property_ = property_for(request)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    newest = Prefetch("analyses", Analysis.objects.order_by("-analysed_on", "-id"))
    offers = Prefetch("offers", Offer.objects.select_related("supplier").order_by("price"))
    rows = Material.objects.filter(property=property_).prefetch_related(newest, offers)
    context = {
        "property": property_,
        "groups": [
            ("Lime", [row for row in rows if row.kind == "lime" and not row.retired_on]),
            ("Fertilizer", [row for row in rows if row.kind == "fertilizer" and not row.retired_on]),
        ],
        "retired": [row for row in rows if row.retired_on],
        "spreaders": Spreader.objects.filter(property=property_, retired_on__isnull=True),
        "may_manage": may(request, property_.pk, MANAGE),
    }
    return render(request, "amendments/materials.html", context)


def _answer(
    request: HttpRequest, form: Any, store: Callable[[], Any], address: str, title: str, context: dict[str, Any]
) -> HttpResponse:
    """Show the form, or store what it holds and go on; a row that changed meanwhile is told, nothing is lost."""
    if form.is_bound and form.is_valid():
        try:
            store()
        except Stale:
            form.add_error(None, CHANGED_MEANWHILE)
        else:
            return done(request, address, f"{title}: saved.")
    return form_page(request, "amendments/simple_form.html", form, {"title": title, "back": address, **context})


@require_http_methods(["GET", "POST"])
def new_material(request: HttpRequest) -> HttpResponse:
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = MaterialForm(request.POST or None, property_=property_)
    if form.is_bound and form.is_valid():
        material = save_material(form.save(commit=False), seen_version=None)
        return done(request, reverse("amendments:new_analysis", args=[material.pk]), f"{material}: now its analysis.")
    context = {"title": "Add a material", "back": list_address(property_), "property": property_}
    return form_page(request, "amendments/simple_form.html", form, context)


@require_http_methods(["GET", "POST"])
def change_material(request: HttpRequest, pk: int) -> HttpResponse:
    material = fetch(request, Material.objects.select_related("property"), pk, allowed=MANAGE)
    start = {"version": material.version}
    form = MaterialForm(request.POST or None, instance=material, initial=start, property_=material.property)
    return _answer(
        request,
        form,
        lambda: save_material(form.save(commit=False), seen_version=form.cleaned_data["version"] or 0),
        list_address(material.property),
        f"Change {material.name}",
        {"property": material.property},
    )


@require_http_methods(["GET", "POST"])
def new_analysis(request: HttpRequest, pk: int) -> HttpResponse:
    """A newer analysis beside the older ones; what was spread keeps the one it froze."""
    material = fetch(request, Material.objects.select_related("property"), pk, allowed=MANAGE)
    form = AnalysisForm(request.POST or None, initial={"analysed_on": timezone.localdate()}, material=material)
    return _answer(
        request,
        form,
        lambda: add_analysis(material, form.analysis_fields()),
        list_address(material.property),
        f"Analysis of {material.name}",
        {"property": material.property, "lead": "As the label or the quarry's certificate states it. Leave empty what "
                                                "is not given; a figure is never made up."},
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def new_offer(request: HttpRequest, pk: int) -> HttpResponse:
    material = fetch(request, Material.objects.select_related("property"), pk, allowed=MANAGE)
    form = OfferForm(request.POST or None, material=material)
    return _offer_answer(request, form, material, f"Offer of {material.name}")


@require_http_methods(["GET", "POST"])
def change_offer(request: HttpRequest, pk: int) -> HttpResponse:
    offers = Offer.objects.select_related("material__property", "supplier")
    offer = fetch(request, offers, pk, allowed=MANAGE, through="material.property_id")
    start = {"version": offer.version}
    form = OfferForm(request.POST or None, instance=offer, initial=start, material=offer.material)
    return _offer_answer(request, form, offer.material, f"Change the offer of {offer.material.name}")


def _offer_answer(request: HttpRequest, form: OfferForm, material: Material, title: str) -> HttpResponse:
    def store() -> None:
        offer = form.save(commit=False)
        offer.supplier = form.supplier()
        save_offer(offer, seen_version=(form.cleaned_data["version"] or 0) if offer.pk else None)

    return _answer(
        request, form, store, list_address(material.property), title, {"property": material.property}
    )  # fmt: skip


@require_POST
def retire(request: HttpRequest, pk: int) -> HttpResponse:
    material = fetch(request, Material.objects.select_related("property"), pk, allowed=MANAGE)
    retire_material(material, on=timezone.localdate())
    return done(request, list_address(material.property), f"{material} is no longer offered. What was spread stays.")


@require_http_methods(["GET", "POST"])
def stock(request: HttpRequest, pk: int) -> HttpResponse:
    """Count what is on hand, or take in what came."""
    material = fetch(request, Material.objects.select_related("property"), pk, allowed=MANAGE)
    form = StockForm(request.POST or None, initial={"counted_on": timezone.localdate()}, material=material)
    return _answer(
        request, form, form.save, list_address(material.property), f"On hand of {material.name}",
        {"property": material.property},
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def new_spreader(request: HttpRequest) -> HttpResponse:
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = SpreaderForm(request.POST or None, property_=property_)
    context = {"property": property_}
    return _answer(request, form, form.save, list_address(property_), "Add a spreader", context)


@require_http_methods(["GET", "POST"])
def change_spreader(request: HttpRequest, pk: int) -> HttpResponse:
    spreader = fetch(request, Spreader.objects.select_related("property"), pk, allowed=MANAGE)
    form = SpreaderForm(request.POST or None, instance=spreader, property_=spreader.property)
    context = {"property": spreader.property}
    return _answer(request, form, form.save, list_address(spreader.property), f"Change {spreader.name}", context)
