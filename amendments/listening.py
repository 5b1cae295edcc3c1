"""Keeps standings true to their facts: whoever changes a fact says so, and here it is heard."""

from __future__ import annotations

from django.dispatch import receiver

from amendments.services.standing import refresh_standing
from plots import facts


@receiver(facts.changed, dispatch_uid="refresh standing")
def refresh(sender: object, plot_ids: frozenset[int], **kwargs: object) -> None:
    """Rewrite the standings in the transaction of the change: with it or not at all."""
    refresh_standing(plot_ids)
