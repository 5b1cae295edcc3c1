"""A property's own crops as the catalogue has them."""

from __future__ import annotations

from agronomy.crops import Crop
from plots.models import OwnCrop


def as_crop(row: OwnCrop) -> Crop:
    """The stored crop as `agronomy` takes it. Every figure is the manager's own, so none names a source."""
    return Crop(
        key=row.key,
        name=row.name,
        group=row.group,  # type: ignore[arg-type]
        perennial=row.perennial,
        legume=row.legume,
        ph_critical=row.ph_critical,
        target_ph=float(row.target_ph),
        floor_ph=float(row.floor_ph),
        upper_ph=float(row.upper_ph),
        n_rule="legume" if row.legume else "rate",
        n_lb_per_acre=float(row.n_lb_per_acre),
    )
