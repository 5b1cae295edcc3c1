"""Places that work depends on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction

from plots.models import Place, Plot, Property


@transaction.atomic
def keep_place(
    property_: Property, fields: Mapping[str, Any], *, plots: Iterable[Plot] = (), place: Place | None = None
) -> Place:
    """Add a place, or change one. Only a stockpile place serves plots."""
    kept = place or Place(property=property_)
    for name, value in fields.items():
        setattr(kept, name, value)
    kept.save()
    kept.plots_in_reach.set(plots if kept.kind == Place.Kind.STOCKPILE else ())
    return kept


@transaction.atomic
def remove_place(place: Place) -> None:
    """Take a place away; its history stays."""
    place.delete()
