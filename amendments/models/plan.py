"""Season plans, and what was bought against them."""

from __future__ import annotations

from django.db import models
from simple_history.models import HistoricalRecords

from amendments.models.materials import Material, Offer
from plots.models import Person, Plot, Property


class SeasonPlan(models.Model):
    """One answer to "what goes where this season", with the wishes it was asked under."""

    class State(models.TextChoices):
        ASKED = "asked", "asked for"
        SOLVING = "solving", "being worked out"
        READY = "ready", "ready"
        STOPPED = "stopped", "stopped, best so far kept"
        FAILED = "failed", "failed"

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="season_plans")
    season = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=100)
    wishes = models.JSONField(default=dict)
    state = models.CharField(max_length=8, choices=State, default=State.ASKED)
    progress = models.JSONField(default=dict, blank=True)
    stop_asked = models.BooleanField(default=False)
    result = models.JSONField(default=dict, blank=True)
    fingerprint = models.CharField(max_length=64, blank=True)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    adopted_at = models.DateTimeField(null=True, blank=True)
    history = HistoricalRecords(excluded_fields=["result", "progress"])

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return self.name


class Purchase(models.Model):
    """What a plan says to buy, and what was really bought and paid."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="purchases")
    season = models.PositiveSmallIntegerField()
    plan = models.ForeignKey(SeasonPlan, null=True, blank=True, on_delete=models.SET_NULL, related_name="purchases")
    offer = models.ForeignKey(Offer, null=True, blank=True, on_delete=models.PROTECT, related_name="purchases")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="purchases")
    planned_packages = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    planned_lb = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    planned_cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    bought_on = models.DateField(null=True, blank=True)
    bought_packages = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    bought_lb = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    paid = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-season", "id"]

    def __str__(self) -> str:
        return f"{self.material} for season {self.season}"


class OtherCost(models.Model):
    """Money that is not material: custom spreading, fuel, lab fees."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="other_costs")
    season = models.PositiveSmallIntegerField()
    plot = models.ForeignKey(Plot, null=True, blank=True, on_delete=models.PROTECT, related_name="other_costs")
    on = models.DateField()
    what = models.CharField(max_length=100)
    amount = models.DecimalField(max_digits=10, decimal_places=2)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-on", "-id"]

    def __str__(self) -> str:
        return f"{self.what} {self.amount}"
