"""Due windows as computed, and how old each property's computation is. Derived: no history is kept of them."""

from django.db import models

from jobs.models import Component, Property, System


class DueWindow(models.Model):
    """Earliest useful, best and latest day for one task on one component by crew or owner, with its reason.

    Dates and rate quantiles are stored, never "today's fill". `chance_at_best` is the chance of being over the
    threshold at the best date (None where nothing is estimated). `reason` is what the words are made from.
    """

    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="windows")
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="windows")
    task = models.CharField(max_length=30)
    who = models.CharField(max_length=5, default="crew")
    rule_code = models.CharField(max_length=60)
    basis = models.CharField(max_length=8)
    earliest_on = models.DateField()
    best_on = models.DateField(db_index=True)
    latest_on = models.DateField()
    chance_at_best = models.FloatField(null=True, blank=True)
    threshold = models.FloatField(null=True, blank=True)
    left_fill = models.FloatField(null=True, blank=True)
    rate_p10 = models.FloatField(null=True, blank=True)
    rate_p50 = models.FloatField(null=True, blank=True)
    rate_p90 = models.FloatField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(default=0)
    reason = models.JSONField(default=dict)
    words = models.TextField(blank=True)
    inputs = models.JSONField(default=dict)

    class Meta:
        ordering = ["best_on", "latest_on", "id"]
        constraints = [models.UniqueConstraint(fields=["component", "task", "who"], name="window_once")]
        indexes = [
            models.Index(fields=["property", "best_on"], name="window_by_property"),
            models.Index(fields=["who", "best_on", "id"], name="window_by_who"),
        ]

    def __str__(self) -> str:
        return f"{self.task} {self.component_id} by {self.latest_on}"


class PropertyForecast(models.Model):
    """When this property's windows were computed, from which register revision and rules; unequal means stale."""

    property = models.OneToOneField(Property, on_delete=models.CASCADE, related_name="forecast")
    computed_at = models.DateTimeField()
    as_of = models.DateField()
    register_revision = models.PositiveIntegerField()
    rules_stamp = models.CharField(max_length=64)
    run = models.UUIDField(null=True, blank=True)
    first_due_on = models.DateField(null=True, blank=True, db_index=True)
    failed = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return f"{self.property_id} as of {self.as_of}"


class SystemRating(models.Model):
    """The storm rating of a system as last computed: as new, today, cleaned (methods.md 2), with what limits it."""

    system = models.OneToOneField(System, on_delete=models.CASCADE, related_name="rating")
    computed_at = models.DateTimeField()
    as_of = models.DateField()
    register_revision = models.PositiveIntegerField()
    needs = models.JSONField(default=list, blank=True)
    as_new = models.FloatField(null=True, blank=True)
    today = models.FloatField(null=True, blank=True)
    today_p10 = models.FloatField(null=True, blank=True)
    today_p90 = models.FloatField(null=True, blank=True)
    cleaned = models.FloatField(null=True, blank=True)
    detail = models.JSONField(default=dict, blank=True)

    def __str__(self) -> str:
        return f"rating of {self.system_id}"


class CapacityFill(models.Model):
    """Fill at which a component alone no longer carries its share of the target storm, from `recorded_at` on.

    Append-only: an earlier day's due windows are computed with the limit that was known then.
    """

    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="capacity_fills")
    fill = models.FloatField(null=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["component_id", "recorded_at", "id"]
        indexes = [models.Index(fields=["component", "-recorded_at"], name="capacity_by_component")]

    def __str__(self) -> str:
        return f"{self.component_id}: {self.fill}"
