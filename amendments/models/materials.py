"""Lime and fertilizer products, their analyses, what they cost and what spreads them."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from plots.models import Property

_PERCENT = [MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(100))]


class Material(models.Model):
    """A lime or fertilizer product. What it contains is in its analyses, which are dated and never overwritten."""

    class Kind(models.TextChoices):
        LIME = "lime", "lime"
        FERTILIZER = "fertilizer", "fertilizer"

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="materials")
    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=100)
    form = models.CharField(max_length=20)  # lime: agronomy.liming_material.FORMS; else granular, liquid, manure
    nitrogen_source = models.CharField(max_length=30, blank=True)  # a key of agronomy's acidity tables
    caustic_allowed = models.BooleanField(default=False)
    retired_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["property", "name"], name="material_once_a_property")]
        ordering = ["kind", "name"]

    def __str__(self) -> str:
        return self.name


class Analysis(models.Model):
    """A material as analysed on a date (one lot). Percentages are of the material as spread unless said otherwise."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="analyses")
    analysed_on = models.DateField()
    lot = models.CharField(max_length=60, blank=True)
    cce_percent = models.DecimalField(
        max_digits=6,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(250))],
    )
    passing_percent = models.JSONField(default=dict, blank=True)  # {"8": 95, "60": 60}: US mesh to percent
    moisture_percent = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(0), validators=_PERCENT)
    declared_values = models.JSONField(default=dict, blank=True)  # {"iowa_ecce": 63}: as the label states it
    solids_percent = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True, validators=_PERCENT)
    density_lb_per_gal = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    bulk_density_lb_per_ft3 = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    n_percent = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(0), validators=_PERCENT)
    p2o5_percent = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(0), validators=_PERCENT)
    k2o_percent = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(0), validators=_PERCENT)
    other_percent = models.JSONField(default=dict, blank=True)  # {"mg": 11, "s": 22, "b": 0}
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["material", "analysed_on", "lot"], name="analysis_once")]
        ordering = ["material_id", "-analysed_on", "-id"]

    def __str__(self) -> str:
        return f"{self.material} of {self.analysed_on:%Y-%m-%d}"


class Supplier(models.Model):
    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="suppliers")
    name = models.CharField(max_length=100)
    note = models.CharField(max_length=300, blank=True)
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["property", "name"], name="supplier_once_a_property")]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class OfferQuerySet(models.QuerySet["Offer"]):
    def open_on(self, property_id: int, day: object) -> OfferQuerySet:
        """Offers of a property that hold on a day, with material and supplier."""
        valid = models.Q(valid_to__isnull=True) | models.Q(valid_to__gte=day)
        started = models.Q(valid_from__isnull=True) | models.Q(valid_from__lte=day)
        return (
            self.filter(valid, started, material__property_id=property_id, material__retired_on__isnull=True)
            .select_related("material", "supplier")
            .prefetch_related("material__analyses")
        )


class Offer(models.Model):
    """A material from a supplier at a price, in a package, with its minimum and the days it holds."""

    class Basis(models.TextChoices):
        AT_SOURCE = "at_source", "picked up at the quarry or store"
        DELIVERED = "delivered", "delivered"
        SPREAD = "spread", "delivered and spread"

    class Package(models.TextChoices):
        TRUCKLOAD = "truckload", "truckload"
        BULK = "bulk", "bulk, by weight"
        BAG = "bag", "bag"
        JUG = "jug", "jug"
        TOTE = "tote", "tote"

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="offers")
    supplier = models.ForeignKey(Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="offers")
    basis = models.CharField(max_length=10, choices=Basis, default=Basis.AT_SOURCE)
    package = models.CharField(max_length=10, choices=Package)
    package_size = models.DecimalField(max_digits=9, decimal_places=3, validators=[MinValueValidator(Decimal("0.001"))])
    package_unit = models.CharField(max_length=6, default="lb")  # ton, lb, gal, kg, t
    minimum_packages = models.DecimalField(max_digits=7, decimal_places=3, default=Decimal(1))
    price = models.DecimalField(max_digits=10, decimal_places=2, validators=[MinValueValidator(Decimal(0))])
    price_per = models.CharField(max_length=8, default="package")  # package, ton, lb, gal
    valid_from = models.DateField(null=True, blank=True)
    valid_to = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords()

    objects = OfferQuerySet.as_manager()

    class Meta:
        ordering = ["material_id", "price"]

    def __str__(self) -> str:
        return f"{self.material} {self.get_basis_display()}"


class StockCount(models.Model):
    """What was counted on hand of a material on a day. Later records draw it down, later receipts add to it."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="stock_counts")
    counted_on = models.DateField()
    amount_entered = models.DecimalField(max_digits=10, decimal_places=3)
    unit_entered = models.CharField(max_length=8)
    package_lb = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    amount_lb = models.DecimalField(max_digits=12, decimal_places=3)
    is_receipt = models.BooleanField(default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["material_id", "-counted_on", "-id"]

    def __str__(self) -> str:
        return f"{self.amount_entered} {self.unit_entered} of {self.material}"


class Spreader(models.Model):
    """A machine that spreads, what it holds and what it can take."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="spreaders")
    name = models.CharField(max_length=100)
    vehicle = models.CharField(max_length=12)  # plots.models.Vehicle
    hopper_lb = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    hopper_ft3 = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    swath_ft = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    minutes_per_load = models.PositiveSmallIntegerField(null=True, blank=True)
    acres_per_hour = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    takes_forms = models.JSONField(default=list, blank=True)
    has_pto = models.BooleanField(default=False)
    retired_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["property", "name"], name="spreader_once_a_property")]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Calibration(models.Model):
    """What a spreader really delivered of one material at one setting."""

    class Method(models.TextChoices):
        KNOWN_AREA = "known_area", "known weight over a known area"
        TRAYS = "trays", "catch trays"

    spreader = models.ForeignKey(Spreader, on_delete=models.PROTECT, related_name="calibrations")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="calibrations")
    done_on = models.DateField()
    done_by = models.ForeignKey("plots.Person", on_delete=models.PROTECT, related_name="+")
    method = models.CharField(max_length=12, choices=Method, default=Method.KNOWN_AREA)
    setting = models.CharField(max_length=40)
    rate_lb_per_acre = models.DecimalField(max_digits=8, decimal_places=1)
    swath_ft = models.DecimalField(max_digits=6, decimal_places=1)
    ground_speed_mph = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    cv_percent = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    readings = models.JSONField(default=dict, blank=True)  # as typed: weights, distances, tray catches
    history = HistoricalRecords()

    class Meta:
        ordering = ["-done_on", "-id"]

    def __str__(self) -> str:
        return f"{self.spreader} with {self.material} at {self.setting}"
