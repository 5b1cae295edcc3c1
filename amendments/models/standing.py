"""Where each plot stands: facts and absolute dates, never anything that depends on today."""

from __future__ import annotations

from django.db import models

from plots.models import Person, Plot, Property


class Standing(models.Model):
    """One row a plot, rewritten in the same transaction as any change of its facts. Amounts are a acre.

    `owed_effective_lb` is lime owed as effective CaCO3, a derived figure used only to add and compare plots.
    """

    plot = models.OneToOneField(Plot, on_delete=models.CASCADE, primary_key=True, related_name="standing")
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="standings")
    crop_label = models.CharField(max_length=120, blank=True)
    crop_keys = models.CharField(max_length=300, blank=True)  # |key|key| for filtering
    tested_on = models.DateField(null=True)
    test_count = models.PositiveSmallIntegerField(default=0)  # samples of that date averaged
    test_ph = models.FloatField(null=True)
    ph_method = models.CharField(max_length=20, blank=True)
    target_ph = models.FloatField(null=True)
    trigger_ph = models.FloatField(null=True)
    floor_ph = models.FloatField(null=True)
    upper_ph = models.FloatField(null=True)
    owed_effective_lb = models.FloatField(null=True)
    owed_amount = models.FloatField(null=True)
    owed_unit = models.CharField(max_length=20, blank=True)
    lime_method = models.CharField(max_length=40, blank=True)
    lime_is_estimate = models.BooleanField(default=False)
    ordered_effective_lb = models.FloatField(default=0)
    smallest_dressing_lb = models.FloatField(default=500)
    order_cover_share = models.FloatField(default=0.8)
    p_rating = models.CharField(max_length=40, blank=True)
    k_rating = models.CharField(max_length=40, blank=True)
    last_spread_on = models.DateField(null=True)
    last_lime_on = models.DateField(null=True)
    settling_until = models.DateField(null=True)
    retest_due_on = models.DateField(null=True)
    retest_reasons = models.JSONField(default=list)
    ph_trace = models.JSONField(default=list)  # [[date, pH], ...] of the series, for the small picture
    finding_codes = models.JSONField(default=list)
    fingerprint = models.CharField(max_length=64, blank=True)
    program_version = models.CharField(max_length=20, blank=True)
    written_at = models.DateTimeField(auto_now=True)

    class Meta:
        indexes = [
            models.Index(fields=["property", "retest_due_on"], name="standing_by_due"),
        ]

    def __str__(self) -> str:
        return f"standing of {self.plot}"


class PhForecast(models.Model):
    """A plot's stored pH forecast on fixed calendar months, with the fingerprint of what it was made from."""

    plot = models.OneToOneField(Plot, on_delete=models.CASCADE, primary_key=True, related_name="ph_forecast")
    result = models.JSONField()
    floor_crossed_on = models.DateField(null=True)  # lower edge of the band
    fingerprint = models.CharField(max_length=64)
    program_version = models.CharField(max_length=20)
    made_at = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return f"forecast of {self.plot}"


class PooledPrior(models.Model):
    """What a property's plots have taught about its ground, lent to plots with few tests."""

    property = models.OneToOneField(Property, on_delete=models.CASCADE, primary_key=True, related_name="pooled_prior")
    values = models.JSONField()
    fingerprint = models.CharField(max_length=64)
    made_at = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return f"pooled prior of {self.property}"


class DigestSent(models.Model):
    """That a person has had the digest of a day, so that running it twice sends one."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="digests")
    day = models.DateField()
    sent_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "day"], name="one_digest_a_day")]

    def __str__(self) -> str:
        return f"digest of {self.day} to {self.person}"
