"""What was really spread. Append-only: a record is never edited, only corrected by a newer one."""

from __future__ import annotations

import builtins
from decimal import Decimal
from uuid import uuid4

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from amendments.models.materials import Material
from plots.models import Person, Plot, Property


class SharedLoad(models.Model):
    """One amount of one material spread over several plots in one go."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="shared_loads")
    uuid = models.UUIDField(unique=True, default=uuid4)
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    spread_on = models.DateField()
    amount_entered = models.DecimalField(max_digits=10, decimal_places=3)
    unit_entered = models.CharField(max_length=8)

    def __str__(self) -> str:
        return f"{self.amount_entered} {self.unit_entered} of {self.material} on {self.spread_on:%Y-%m-%d}"


class SpreadingRecordQuerySet(models.QuerySet["SpreadingRecord"]):
    def standing(self) -> SpreadingRecordQuerySet:
        """Records that no newer one corrects."""
        return self.filter(corrected_by__isnull=True)

    def of_plots(self, plot_ids: list[int]) -> SpreadingRecordQuerySet:
        """Standing records of these plots, oldest first."""
        return self.standing().filter(plot_id__in=plot_ids).order_by("plot_id", "spread_on", "id")


class SpreadingRecord(models.Model):
    """What was spread on one plot on one day: as entered, in pounds, and with the material's analysis frozen.

    `uuid` is unique over the installation and `digest` is of the parsed fields, so the same entry sent twice is
    stored once and the same UUID with other content is refused. A void is a correction with amount 0.
    """

    uuid = models.UUIDField(unique=True, default=uuid4)
    digest = models.CharField(max_length=64)
    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="spreading_records")
    plot = models.ForeignKey(Plot, on_delete=models.PROTECT, related_name="spreading_records")
    spread_on = models.DateField()
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="spreading_records")
    frozen = models.JSONField()  # the material and its analysis as they were: see amendments.services.materials
    amount_entered = models.DecimalField(max_digits=10, decimal_places=3, validators=[MinValueValidator(Decimal(0))])
    unit_entered = models.CharField(max_length=8)  # bag, ton, lb, gal, jug, load, kg, t
    package_lb = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    amount_lb = models.DecimalField(max_digits=12, decimal_places=3)
    area_entered = models.DecimalField(max_digits=10, decimal_places=4)
    area_unit = models.CharField(max_length=8, default="acre")
    acres_covered = models.DecimalField(max_digits=10, decimal_places=4)
    leftover_lb = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    worked_in_on = models.DateField(null=True, blank=True)
    worked_in_depth_in = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(Decimal(18))],
    )
    method = models.CharField(max_length=30, blank=True)  # broadcast, banded, foliar
    spreader = models.ForeignKey(
        "amendments.Spreader", null=True, blank=True, on_delete=models.PROTECT, related_name="spreading_records"
    )
    started_at = models.TimeField(null=True, blank=True)
    ended_at = models.TimeField(null=True, blank=True)
    temperature_f = models.SmallIntegerField(null=True, blank=True)
    weather = models.CharField(max_length=100, blank=True)
    forecast_next_day = models.CharField(max_length=100, blank=True)
    ground = models.CharField(max_length=30, blank=True)  # dry, moist, wet, frozen, snow
    applicator = models.CharField(max_length=100)
    photo = models.FileField(upload_to="photos/", blank=True)
    note = models.CharField(max_length=500, blank=True)
    order_line = models.ForeignKey(
        "amendments.WorkOrderLine", null=True, blank=True, on_delete=models.PROTECT, related_name="records"
    )
    load = models.ForeignKey(SharedLoad, null=True, blank=True, on_delete=models.PROTECT, related_name="records")
    is_late = models.BooleanField(default=False)  # arrived after its order was done or called off
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="spreading_records")
    entered_at = models.DateTimeField()
    arrived_at = models.DateTimeField(auto_now_add=True)

    objects = SpreadingRecordQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["plot", "spread_on"], name="record_of_plot"),
            models.Index(fields=["property", "-spread_on"], name="record_of_property"),
        ]
        ordering = ["-spread_on", "-id"]

    def __str__(self) -> str:
        return f"{self.amount_entered} {self.unit_entered} of {self.material} on {self.plot}"

    @builtins.property  # the field of that name hides the built-in here
    def is_void(self) -> bool:
        return self.corrects_id is not None and self.amount_lb == 0

    @builtins.property  # the field of that name hides the built-in here
    def lb_per_acre(self) -> Decimal:
        """What was achieved, as spread."""
        return self.amount_lb / self.acres_covered
