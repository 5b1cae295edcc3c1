"""A property's own crops as the catalogue has them."""

from __future__ import annotations

from agronomy.crops import Crop
from plots.models import OwnCrop


def as_crops(row: OwnCrop) -> Crop:
    """The stored crop as `agronomy` takes it; its figures are the manager's own."""
    raise AttributeError(row)
