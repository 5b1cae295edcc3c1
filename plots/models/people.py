"""People, and what each may do on a property."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models
from simple_history.models import HistoricalRecords


class Person(AbstractUser):
    """Someone who signs in. An operator runs the installation and sees no property without a role in it."""

    is_operator = models.BooleanField(default=False)
    last_property = models.ForeignKey(
        "plots.Property", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    wants_digest = models.BooleanField(default=True)

    def __str__(self) -> str:
        return self.get_full_name() or self.username


class Role(models.Model):
    """What a person may do on one property."""

    class Kind(models.TextChoices):
        MANAGER = "manager", "land manager"
        HAND = "hand", "hired hand"
        VIEWER = "viewer", "viewer"

    property = models.ForeignKey("plots.Property", on_delete=models.CASCADE, related_name="roles")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="roles")
    kind = models.CharField(max_length=10, choices=Kind)
    history = HistoricalRecords()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["property", "person"], name="one_role_a_property")]
        ordering = ["property_id", "kind", "person_id"]

    def __str__(self) -> str:
        return f"{self.person} is {self.get_kind_display()} of {self.property}"


class Invite(models.Model):
    """A link by which somebody joins a property. Only its digest is kept."""

    property = models.ForeignKey("plots.Property", on_delete=models.CASCADE, related_name="invites")
    kind = models.CharField(max_length=10, choices=Role.Kind)
    email = models.EmailField(blank=True)
    token_digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    used_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"invite to {self.property} as {self.get_kind_display()}"


class FeedToken(models.Model):
    """A revocable right to read one person's calendar or export without signing in. Only its digest is kept."""

    class Use(models.TextChoices):
        CALENDAR = "calendar", "calendar feed"
        UNSUBSCRIBE = "unsubscribe", "unsubscribe link"

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="feed_tokens")
    use = models.CharField(max_length=12, choices=Use, default=Use.CALENDAR)
    token_digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.get_use_display()} of {self.person}"
