"""A property and the figures its manager has settled on."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from plots.models.people import Person
from plots.text import code_key


def _between(low: float | str, high: float | str) -> list[MinValueValidator | MaxValueValidator]:
    return [MinValueValidator(Decimal(str(low))), MaxValueValidator(Decimal(str(high)))]


class PropertyQuerySet(models.QuerySet["Property"]):
    def seen_by(self, person: Person) -> PropertyQuerySet:
        """The properties in which a person has a role."""
        return self.filter(roles__person=person).distinct()


class Property(models.Model):
    """One hunting property: where it lies, whose tables it goes by, and the manager's own figures.

    The figures that decide a status are common practice and may be set here.
    """

    class Region(models.TextChoices):
        WARM_HUMID = "warm_humid", "warm and humid (red and yellow soils of the South-East)"
        COOL_HUMID = "cool_humid", "cool and humid (North-East, Lake States, Corn Belt)"

    class Policy(models.TextChoices):
        FULL = "full", "full rate"
        STAGED = "staged", "staged: about half now, retest in 12 months"

    class Units(models.TextChoices):
        US = "us", "US customary"
        METRIC = "metric", "metric"

    code = models.CharField(max_length=20)
    code_key = models.CharField(max_length=60, unique=True, editable=False)
    name = models.CharField(max_length=100)
    is_demo = models.BooleanField(default=False, editable=False)
    state = models.CharField(max_length=2, blank=True, help_text="Two letters. It chooses the published tables.")
    region = models.CharField(max_length=12, choices=Region, default=Region.WARM_HUMID)
    time_zone = models.CharField(max_length=50, default="America/Chicago")
    units = models.CharField(max_length=6, choices=Units, default=Units.US)
    lime_calibration = models.CharField(max_length=40, blank=True)
    fertilizer_calibration = models.CharField(max_length=40, blank=True)
    calibration_by_crop_group = models.JSONField(default=dict, blank=True)
    target_by_crop = models.JSONField(default=dict, blank=True)
    lime_policy = models.CharField(max_length=6, choices=Policy, default=Policy.FULL)
    trigger_gap = models.DecimalField(
        max_digits=3, decimal_places=2, default=Decimal("0.30"), validators=_between(0, 1)
    )
    smallest_dressing_lb = models.PositiveIntegerField(default=500, validators=[MaxValueValidator(4000)])
    order_cover_percent = models.PositiveSmallIntegerField(default=80, validators=[MaxValueValidator(100)])
    settling_months = models.PositiveSmallIntegerField(default=12, validators=[MaxValueValidator(36)])
    upper_ph = models.DecimalField(max_digits=3, decimal_places=1, default=Decimal("7.3"), validators=_between(6, 9))
    retest_years = models.PositiveSmallIntegerField(default=3, validators=[MinValueValidator(1), MaxValueValidator(10)])
    retest_after_lime_months = models.PositiveSmallIntegerField(
        default=12, validators=[MinValueValidator(6), MaxValueValidator(36)]
    )
    version = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords()

    objects = PropertyQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "properties"
        ordering = ["code_key"]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: object, **kwargs: object) -> None:
        self.code_key = code_key(self.code)
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class OwnCrop(models.Model):
    """A crop that the manager added to the catalogue for one property."""

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="own_crops")
    key = models.SlugField(max_length=40)
    name = models.CharField(max_length=60)
    group = models.CharField(max_length=30)
    perennial = models.BooleanField(default=False)
    legume = models.BooleanField(default=False)
    ph_critical = models.BooleanField(default=False)
    target_ph = models.DecimalField(max_digits=3, decimal_places=1, validators=_between(4, 8))
    floor_ph = models.DecimalField(max_digits=3, decimal_places=1, validators=_between(4, 8))
    upper_ph = models.DecimalField(max_digits=3, decimal_places=1, validators=_between(5, 9))
    n_lb_per_acre = models.DecimalField(max_digits=5, decimal_places=1, default=Decimal(0), validators=_between(0, 300))
    source_note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["property", "key"], name="own_crop_key_once_a_property")]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
