"""What one hand is to spread where. Frozen when issued."""

from __future__ import annotations

import builtins

from django.db import models
from simple_history.models import HistoricalRecords

from amendments.models.materials import Material, Spreader
from plots.models import Person, Plot, Property


class WorkOrder(models.Model):
    """The work of one person on one date: lines in driving order."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        ISSUED = "issued", "issued"
        STARTED = "started", "started"
        DONE = "done", "done"
        CALLED_OFF = "called_off", "called off"

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="work_orders")
    number = models.PositiveIntegerField()
    hand = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="work_orders")
    planned_on = models.DateField()
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    spreader = models.ForeignKey(Spreader, null=True, blank=True, on_delete=models.PROTECT, related_name="work_orders")
    note = models.TextField(blank=True)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    issued_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    issued_at = models.DateTimeField(null=True, blank=True)
    started_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords()

    OPEN_STATES = (State.ISSUED, State.STARTED)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["property", "number"], name="order_number_once")]
        ordering = ["-planned_on", "-number"]

    def __str__(self) -> str:
        return f"work order {self.number}"

    @builtins.property  # the field of that name hides the built-in here
    def is_open(self) -> bool:
        return self.state in self.OPEN_STATES


class WorkOrderLine(models.Model):
    """One plot and material of an order. `frozen` holds inputs, result, findings and program version at issue."""

    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="lines")
    plot = models.ForeignKey(Plot, on_delete=models.PROTECT, related_name="order_lines")
    position = models.PositiveSmallIntegerField()
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="order_lines")
    rate_lb_per_acre = models.DecimalField(max_digits=9, decimal_places=2)
    acres = models.DecimalField(max_digits=10, decimal_places=4)
    total_lb = models.DecimalField(max_digits=12, decimal_places=2)
    package_lb = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    packages = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    package_name = models.CharField(max_length=10, blank=True)  # bag, load, jug
    work_in_depth_in = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    work_in_within_days = models.PositiveSmallIntegerField(null=True, blank=True)
    dressing = models.PositiveSmallIntegerField(default=1)
    dressings = models.PositiveSmallIntegerField(default=1)
    not_before = models.DateField(null=True, blank=True)
    frozen = models.JSONField(default=dict, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["order_id", "position"]

    def __str__(self) -> str:
        return f"{self.material} on {self.plot}"
