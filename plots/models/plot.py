"""A plot: its ground, its size and what can reach it."""

from __future__ import annotations

import builtins
from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from agronomy.soil import TEXTURES
from plots.models.people import Person
from plots.models.property import Property
from plots.text import code_key, natural_key

LARGEST_PLOT_ACRES = Decimal(2000)


class Vehicle(models.TextChoices):
    """The heaviest machine that reaches a plot, heaviest first."""

    LIME_TRUCK = "lime_truck", "lime truck"
    TRACTOR = "tractor", "tractor"
    SIDE_BY_SIDE = "side_by_side", "side-by-side"
    ON_FOOT = "on_foot", "on foot"


class Tillage(models.TextChoices):
    TILLED = "tilled", "tilled"
    NO_TILL = "no_till", "no-till"
    SOD = "sod", "sod"


class PlotQuerySet(models.QuerySet["Plot"]):
    def seen_by(self, person: Person) -> PlotQuerySet:
        """The plots of the properties in which a person has a role."""
        return self.filter(property__roles__person=person)

    def in_use(self) -> PlotQuerySet:
        """Plots that are not retired."""
        return self.filter(retired_on__isnull=True)

    def on_property(self, property_id: int) -> PlotQuerySet:
        return self.filter(property_id=property_id)


class Plot(models.Model):
    """One food plot. Acres are kept as entered beside the figure in acres; a boundary gives measured acres."""

    class AcresFrom(models.TextChoices):
        ENTERED = "entered", "as entered"
        BOUNDARY = "boundary", "from the boundary"

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="plots")
    code = models.CharField(max_length=20)
    code_key = models.CharField(max_length=60, editable=False)
    sort_key = models.CharField(max_length=200, editable=False)
    name = models.CharField(max_length=100, blank=True)
    area_entered = models.DecimalField(max_digits=10, decimal_places=4)
    area_unit = models.CharField(max_length=8, default="acre")
    acres_entered = models.DecimalField(
        max_digits=10,
        decimal_places=4,
        validators=[MinValueValidator(Decimal("0.01")), MaxValueValidator(LARGEST_PLOT_ACRES)],
    )
    boundary = models.JSONField(null=True, blank=True)
    acres_measured = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    measured_sd_acres = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    boundary_source = models.CharField(max_length=60, blank=True)
    acres_from = models.CharField(max_length=8, choices=AcresFrom, default=AcresFrom.ENTERED)
    texture = models.CharField(max_length=20, blank=True, choices=[(t, t.replace("_", " ")) for t in TEXTURES])
    organic_soil = models.BooleanField(default=False)
    tillage = models.CharField(max_length=8, choices=Tillage, default=Tillage.TILLED)
    depth_limed_in = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        default=Decimal("6.0"),
        validators=[MinValueValidator(Decimal("1")), MaxValueValidator(Decimal("12"))],
    )
    access = models.CharField(max_length=12, choices=Vehicle, default=Vehicle.TRACTOR)
    access_months = models.JSONField(default=list, blank=True)  # months 1-12 the access holds; empty: all year
    near_water = models.BooleanField(default=False)
    slope = models.BooleanField(default=False)
    usual_sampling_month = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    target_ph = models.DecimalField(
        max_digits=3,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(4)), MaxValueValidator(Decimal(8))],
    )
    note = models.TextField(blank=True)
    retired_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords()

    objects = PlotQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["property", "code_key"], name="plot_code_once_a_property"),
        ]
        indexes = [models.Index(fields=["property", "sort_key"], name="plot_by_code")]
        ordering = ["property_id", "sort_key"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}".strip()

    def save(self, *args: object, **kwargs: object) -> None:
        self.code_key, self.sort_key = code_key(self.code), natural_key(self.code)
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    @builtins.property  # the field of that name hides the built-in here
    def acres(self) -> Decimal:
        """The acres that rates are worked out on: measured if the manager chose the boundary, else entered."""
        if self.acres_from == self.AcresFrom.BOUNDARY and self.acres_measured is not None:
            return self.acres_measured
        return self.acres_entered

    @builtins.property  # the field of that name hides the built-in here
    def is_incorporated(self) -> bool:
        """Whether lime is worked in: tilled ground that a machine reaches."""
        return self.tillage == Tillage.TILLED


class PlotLineage(models.Model):
    """Which plot came out of which, when a plot was split or several were merged."""

    class Kind(models.TextChoices):
        SPLIT = "split", "split"
        MERGE = "merge", "merged"

    before = models.ForeignKey(Plot, on_delete=models.PROTECT, related_name="became")
    after = models.ForeignKey(Plot, on_delete=models.PROTECT, related_name="came_from")
    kind = models.CharField(max_length=5, choices=Kind)
    on = models.DateField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["before", "after"], name="lineage_once")]

    def __str__(self) -> str:
        return f"{self.before} {self.get_kind_display()} into {self.after}"


class Place(models.Model):
    """A point, line or area on the map that work depends on: access, stockpile, water, well, line."""

    class Kind(models.TextChoices):
        ACCESS = "access", "access point"
        STOCKPILE = "stockpile", "stockpile place"
        WATER = "water", "water"
        WELL = "well", "well"
        SENSITIVE = "sensitive", "other sensitive place"

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="places")
    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=100)
    geometry = models.JSONField(null=True, blank=True)
    setback_ft = models.PositiveIntegerField(default=0, validators=[MaxValueValidator(5000)])
    setback_rule = models.CharField(max_length=200, blank=True)
    plots_in_reach = models.ManyToManyField(Plot, blank=True, related_name="stockpiles")
    history = HistoricalRecords()

    class Meta:
        ordering = ["kind", "name"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.name}"


class EdgeWalk(models.Model):
    """One walk around a plot's edge with a phone: the fixes as recorded and the ring made of them."""

    plot = models.ForeignKey(Plot, on_delete=models.CASCADE, related_name="edge_walks")
    uuid = models.UUIDField(unique=True)
    walked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    walked_at = models.DateTimeField()
    fixes = models.JSONField()
    ring = models.JSONField()
    acres = models.DecimalField(max_digits=10, decimal_places=4)
    sd_acres = models.DecimalField(max_digits=10, decimal_places=4)
    arrived_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-walked_at"]

    def __str__(self) -> str:
        return f"walk of {self.plot} on {self.walked_at:%Y-%m-%d}"
