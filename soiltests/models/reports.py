"""Laboratories and the reports they send."""

from __future__ import annotations

from django.db import models
from simple_history.models import HistoricalRecords

from plots.models import Person, Property


class Lab(models.Model):
    """A laboratory as one property uses it, with its methods and the columns of its files remembered."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="labs")
    name = models.CharField(max_length=100)
    ph_method = models.CharField(max_length=20, default="water_1_1")
    buffer_method = models.CharField(max_length=20, blank=True)
    extractant = models.CharField(max_length=30, blank=True)
    fee = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    column_choices = models.JSONField(default=dict, blank=True)
    sample_names = models.JSONField(default=dict, blank=True)  # sample name as printed -> plot id, as confirmed
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["property", "name"], name="lab_once_a_property")]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class LabReport(models.Model):
    """The file or letter that soil tests came in. An upload is a draft until its preview is accepted."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        ACCEPTED = "accepted", "accepted"
        UNDONE = "undone", "undone"

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="lab_reports")
    lab = models.ForeignKey(Lab, on_delete=models.PROTECT, related_name="reports")
    state = models.CharField(max_length=8, choices=State, default=State.DRAFT)
    title = models.CharField(max_length=150, blank=True)
    received_on = models.DateField(null=True, blank=True)
    original = models.FileField(upload_to="reports/", blank=True)
    original_name = models.CharField(max_length=200, blank=True)
    original_sha256 = models.CharField(max_length=64, blank=True)
    table = models.JSONField(default=list, blank=True)  # the parsed cells, as text, header row first
    choices = models.JSONField(default=dict, blank=True)  # columns, units, date order and plot matches chosen
    outcome = models.JSONField(default=dict, blank=True)  # what accepting it made, for the undo
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    accepted_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField(null=True, blank=True)
    history = HistoricalRecords(excluded_fields=["table"])

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return self.title or self.original_name or f"report of {self.lab}"


class Attachment(models.Model):
    """A lab's PDF or a photo kept with a report. Stored under a random name, served only to members."""

    report = models.ForeignKey(LabReport, on_delete=models.CASCADE, related_name="attachments")
    file = models.FileField(upload_to="attachments/")
    name = models.CharField(max_length=200)
    content_type = models.CharField(max_length=50)
    size = models.PositiveIntegerField()
    added_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.name
