"""Technical tables of the house. Trade tables belong to the apps below."""

from __future__ import annotations

from django.db import models


class JobClaim(models.Model):
    """Who does a daily job on a day. The unique row is what keeps it to once, however many processes there are."""

    job = models.CharField(max_length=60)
    day = models.DateField()
    claimed_by = models.CharField(max_length=120)
    lease_until = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=1)
    done_at = models.DateTimeField(null=True, blank=True)
    trouble = models.TextField(blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["job", "day"], name="one_claim_a_job_and_day")]
        ordering = ["-day", "job"]

    def __str__(self) -> str:
        return f"{self.job} on {self.day}"
