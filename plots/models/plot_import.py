"""Lists of plots on their way in."""

from __future__ import annotations

from django.db import models

from plots.models.people import Person
from plots.models.property import Property


class PlotImport(models.Model):
    """A table of plots as it was sent. It is a draft until its preview is accepted, once and as a whole."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        ACCEPTED = "accepted", "accepted"

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="plot_imports")
    state = models.CharField(max_length=8, choices=State, default=State.DRAFT)
    original_name = models.CharField(max_length=200, blank=True)
    encoding = models.CharField(max_length=20, blank=True)
    table = models.JSONField()  # [[line number, [cell, ...]], ...], all cells as text, the row of headings first
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    accepted_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return self.original_name or "pasted list of plots"
