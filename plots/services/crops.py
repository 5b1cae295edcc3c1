"""A property's own crops and targets: each change works its plots out again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils.text import slugify

from agronomy.crops import crops
from plots.facts import tell_changed
from plots.models import OwnCrop, Planting, Property


class CropInUse(Exception):
    """Plantings name the crop, so it cannot be taken away."""

    def __init__(self, plots: list[str]) -> None:
        super().__init__(f"on {', '.join(plots)}")
        self.plots = plots


def _changed(property_: Property) -> None:
    tell_changed(property_.plots.values_list("pk", flat=True))


def _free_key(property_: Property, name: str) -> str:
    """A key that neither the catalogue nor the property has."""
    base = f"own_{slugify(name).replace('-', '_')[:30] or 'crop'}"
    taken = {*crops(), *property_.own_crops.values_list("key", flat=True)}
    return next(key for number in range(1, 10_000) if (key := base if number == 1 else f"{base}_{number}") not in taken)


@transaction.atomic
def add_crop(property_: Property, fields: Mapping[str, Any]) -> OwnCrop:
    """A crop that the catalogue lacks."""
    made = OwnCrop(property=property_, key=_free_key(property_, fields["name"]), **fields)
    made.save()
    return made


@transaction.atomic
def change_crop(crop: OwnCrop, fields: Mapping[str, Any]) -> OwnCrop:
    for name, value in fields.items():
        setattr(crop, name, value)
    crop.save()
    _changed(crop.property)
    return crop


def plots_with(crop: OwnCrop) -> list[str]:
    """Codes of the plots on which the crop is or was planted."""
    rows = Planting.objects.filter(plot__property_id=crop.property_id).select_related("plot").order_by("plot__sort_key")
    return list(dict.fromkeys(row.plot.code for row in rows if crop.key in row.crop_keys))


@transaction.atomic
def remove_crop(crop: OwnCrop) -> None:
    """Take a crop out of the list. Raises `CropInUse` if a planting, even one long over, rests on it."""
    used = plots_with(crop)
    if used:
        raise CropInUse(used)
    crop.delete()
