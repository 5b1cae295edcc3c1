"""The one way a lower app tells the upper ones that a plot's facts have changed.

`changed` is sent inside the transaction of the change, so that whatever listens is written with it or not at all.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.dispatch import Signal

changed = Signal()  # plot_ids: frozenset[int]


def tell_changed(plot_ids: Iterable[int]) -> None:
    """Say that the facts of these plots changed. Call it inside the transaction that changed them."""
    ids = frozenset(plot_ids)
    if ids:
        changed.send(sender=None, plot_ids=ids)
