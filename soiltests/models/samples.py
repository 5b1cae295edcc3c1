"""Samples, the soil tests made of them, and the single measurements."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from plots.models import Plot, Property
from soiltests.models.reports import Lab, LabReport


class Sample(models.Model):
    """A composite of cores taken from one plot on one day at one depth.

    A composite of a group of like plots is one sample a plot that share a `group`; it is flagged as shared.
    """

    class Fate(models.TextChoices):
        TAKEN = "taken", "taken"
        LOST = "lost", "lost"
        REPEATED = "repeated", "repeated"

    plot = models.ForeignKey(Plot, on_delete=models.PROTECT, related_name="samples")
    sampled_on = models.DateField()
    depth_top_in = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(0))
    depth_bottom_in = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(6))
    depth_entered = models.CharField(max_length=20, blank=True)  # as the report had it, e.g. "0-18 cm"
    label = models.CharField(max_length=60, blank=True)
    group = models.CharField(max_length=60, blank=True)
    cores = models.PositiveSmallIntegerField(null=True, blank=True)
    fate = models.CharField(max_length=8, choices=Fate, default=Fate.TAKEN)
    note = models.CharField(max_length=300, blank=True)
    history = HistoricalRecords()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["plot", "sampled_on", "depth_top_in", "depth_bottom_in", "label"], name="sample_once"
            ),
        ]
        indexes = [models.Index(fields=["plot", "-sampled_on"], name="sample_newest_first")]
        ordering = ["plot_id", "-sampled_on"]

    def __str__(self) -> str:
        return f"{self.plot} {self.sampled_on:%Y-%m-%d}"

    @property
    def is_shared(self) -> bool:
        return bool(self.group)


class SoilTestQuerySet(models.QuerySet["SoilTest"]):
    def of_plots(self, plot_ids: list[int]) -> SoilTestQuerySet:
        """Tests of samples that were taken from these plots and not lost, newest first, with what they measured."""
        taken = self.filter(sample__plot_id__in=plot_ids, sample__fate=Sample.Fate.TAKEN)
        return (
            taken.select_related("sample", "lab")
            .prefetch_related("measurements")
            .order_by("sample__plot_id", "-sample__sampled_on", "id")
        )


class SoilTest(models.Model):
    """One lab's measured values of one sample, and what the lab itself printed as advice."""

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="soil_tests")
    lab = models.ForeignKey(Lab, on_delete=models.PROTECT, related_name="soil_tests")
    report = models.ForeignKey(LabReport, null=True, blank=True, on_delete=models.PROTECT, related_name="soil_tests")
    lab_number = models.CharField(max_length=40, blank=True)
    reported_on = models.DateField(null=True, blank=True)
    ph = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(3)), MaxValueValidator(Decimal(10))],
    )
    ph_method = models.CharField(max_length=20, default="water_1_1")
    buffer_ph = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    buffer_method = models.CharField(max_length=20, blank=True)
    # The lab's own lime line, exactly as printed.
    lab_lime_amount = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    lab_lime_unit = models.CharField(max_length=20, blank=True)
    lab_lime_target_ph = models.DecimalField(max_digits=3, decimal_places=1, null=True, blank=True)
    lab_lime_depth_in = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    lab_lime_reference = models.CharField(max_length=40, blank=True)  # a key of LAB_LIME_REFERENCES
    # The lab's own fertilizer line, lb per acre.
    lab_n = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    lab_p2o5 = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    lab_k2o = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    lab_npk_unit = models.CharField(max_length=20, default="lb/acre")
    lab_crop = models.CharField(max_length=60, blank=True)
    note = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords()

    objects = SoilTestQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["sample", "lab"], name="one_test_a_sample_and_lab")]
        ordering = ["sample_id", "id"]

    def __str__(self) -> str:
        return f"{self.sample} by {self.lab}"


class Measurement(models.Model):
    """One analyte of a soil test: the figure as entered and the converted one.

    `value_entered` keeps the text of the report ("<5" stays so, with `below_detection` set). `converted` is in
    `converted_unit`; the extractant is part of the value.
    """

    soil_test = models.ForeignKey(SoilTest, on_delete=models.CASCADE, related_name="measurements")
    analyte = models.CharField(max_length=20)
    value_entered = models.CharField(max_length=30)
    unit_entered = models.CharField(max_length=16)
    extractant = models.CharField(max_length=30, blank=True)
    below_detection = models.BooleanField(default=False)
    value = models.DecimalField(max_digits=12, decimal_places=4)
    converted = models.DecimalField(max_digits=14, decimal_places=6)
    converted_unit = models.CharField(max_length=16)
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["soil_test", "analyte"], name="analyte_once_a_test")]
        ordering = ["soil_test_id", "id"]

    def __str__(self) -> str:
        return f"{self.analyte} {self.value_entered} {self.unit_entered}"


class SamplingRound(models.Model):
    """One walk over the property to take samples, from the list to the lab's answer."""

    class State(models.TextChoices):
        OPEN = "open", "to be taken"
        SENT = "sent", "sent to lab"
        REPORTED = "reported", "report in"
        CALLED_OFF = "called_off", "called off"

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="sampling_rounds")
    name = models.CharField(max_length=100)
    planned_on = models.DateField()
    lab = models.ForeignKey(Lab, null=True, blank=True, on_delete=models.PROTECT, related_name="rounds")
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    sent_on = models.DateField(null=True, blank=True)
    reported_on = models.DateField(null=True, blank=True)
    fee_each = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    note = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-planned_on", "-id"]

    def __str__(self) -> str:
        return self.name


class RoundStop(models.Model):
    """One bag of a sampling round: a plot, or one of the like plots that share a composite (`group`)."""

    round = models.ForeignKey(SamplingRound, on_delete=models.CASCADE, related_name="stops")
    plot = models.ForeignKey(Plot, on_delete=models.PROTECT, related_name="round_stops")
    position = models.PositiveSmallIntegerField()
    group = models.CharField(max_length=60, blank=True)
    label = models.CharField(max_length=60, blank=True)
    cores_advised = models.PositiveSmallIntegerField()
    depth_bottom_in = models.DecimalField(max_digits=4, decimal_places=1)
    crop_code = models.CharField(max_length=20, blank=True)
    taken_on = models.DateField(null=True, blank=True)
    taken_by = models.ForeignKey("plots.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    marked_at = models.DateTimeField(null=True, blank=True)
    cores_taken = models.PositiveSmallIntegerField(null=True, blank=True)
    sample = models.ForeignKey(Sample, null=True, blank=True, on_delete=models.SET_NULL, related_name="round_stops")
    note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["round", "plot", "label"], name="stop_once_a_round")]
        ordering = ["round_id", "position"]

    def __str__(self) -> str:
        return f"{self.plot} in {self.round}"
