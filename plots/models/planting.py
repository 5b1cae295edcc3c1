"""What grows on a plot, and from which season to which."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from plots.models.plot import Plot
from plots.seasons import season_name


class PlantingQuerySet(models.QuerySet["Planting"]):
    def standing_in(self, season: int) -> PlantingQuerySet:
        """Plantings whose span of seasons takes in the given one."""
        open_or_later = models.Q(last_season__isnull=True) | models.Q(last_season__gte=season)
        return self.filter(open_or_later, first_season__lte=season)


class Planting(models.Model):
    """The crop or mix on a plot from its first to its last season (open for a perennial)."""

    class Establishment(models.TextChoices):
        NEW_SEEDING = "new_seeding", "new seeding"
        ESTABLISHED = "established", "established"
        FROST_SEEDED = "frost_seeded", "frost-seeded"

    class Use(models.TextChoices):
        BROWSED = "browsed", "browsed"
        GRAIN_STANDING = "grain_standing", "grain left standing"
        HAYED = "hayed", "hayed"

    plot = models.ForeignKey(Plot, on_delete=models.PROTECT, related_name="plantings")
    name = models.CharField(max_length=100, blank=True)
    components = models.JSONField()  # [{"crop": key, "share_percent": number}, ...], the largest share first
    first_season = models.PositiveSmallIntegerField()
    last_season = models.PositiveSmallIntegerField(null=True, blank=True)
    planned_on = models.DateField(null=True, blank=True)
    planted_on = models.DateField(null=True, blank=True)
    establishment = models.CharField(max_length=12, choices=Establishment, default=Establishment.NEW_SEEDING)
    no_till = models.BooleanField(default=False)
    inoculated = models.BooleanField(default=False)
    legume_share_percent = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(100)])
    use = models.CharField(max_length=14, choices=Use, default=Use.BROWSED)
    yield_goal = models.DecimalField(
        max_digits=7, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(Decimal("0.1"))]
    )
    yield_unit = models.CharField(max_length=12, blank=True)
    n_chosen_lb_per_acre = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(300))],
    )
    note = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords()

    objects = PlantingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plot", "first_season"], name="one_planting_a_first_season"),
            models.CheckConstraint(
                condition=models.Q(last_season__isnull=True) | models.Q(last_season__gte=models.F("first_season")),
                name="planting_ends_after_it_begins",
            ),
        ]
        ordering = ["plot_id", "-first_season"]

    def __str__(self) -> str:
        return f"{self.name or 'planting'} on {self.plot} from {season_name(self.first_season)}"

    @property
    def crop_keys(self) -> tuple[str, ...]:
        return tuple(part["crop"] for part in self.components)

    @property
    def shares(self) -> tuple[tuple[str, float], ...]:
        """Crop keys with their seed shares in percent."""
        return tuple((part["crop"], float(part["share_percent"])) for part in self.components)
