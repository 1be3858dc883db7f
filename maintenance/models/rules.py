"""Rules: when a task is wanted. Every change is a new version; overrides hold for one property or component."""

import uuid

from django.db import models

from jobs.models import Component, Property


class Rule(models.Model):
    """A rule by its code. What it says stands in its newest `RuleVersion`; `origin` is library or company."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    code = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=24, db_index=True)
    task = models.CharField(max_length=30)
    origin = models.CharField(max_length=10, default="library")

    class Meta:
        ordering = ["kind", "task", "code"]

    def __str__(self) -> str:
        return self.code


class RuleVersion(models.Model):
    """What a rule says from `recorded_at` on. `numbers` depend on the basis (maintenance/rule_library)."""

    class Basis(models.TextChoices):
        CALENDAR = "calendar", "calendar"
        SEASON = "season", "season"
        SILT = "silt", "silt"
        WEAR = "wear", "wear"
        STORM = "storm", "storm"

    class Standing(models.TextChoices):
        FIRM = "firm", "firm"
        FALLBACK = "fallback", "fallback"

    rule = models.ForeignKey(Rule, on_delete=models.CASCADE, related_name="versions")
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=60)
    recorded_name = models.CharField(max_length=80, blank=True)
    active = models.BooleanField(default=True)
    basis = models.CharField(max_length=8, choices=Basis.choices)
    standing = models.CharField(max_length=8, choices=Standing.choices)
    numbers = models.JSONField(default=dict)
    minutes = models.PositiveSmallIntegerField(default=15)
    who = models.CharField(max_length=5, choices=[("crew", "crew"), ("owner", "owner")], default="crew")
    words_office = models.CharField(max_length=300)
    words_homeowner = models.CharField(max_length=400, blank=True)
    source = models.CharField(max_length=300)
    why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["rule_id", "-recorded_at", "-id"]
        indexes = [models.Index(fields=["rule", "-recorded_at"], name="version_by_rule")]

    def __str__(self) -> str:
        return f"{self.rule_id} of {self.recorded_at:%Y-%m-%d}"


class RuleOverride(models.Model):
    """Other numbers for one property or one component, or the rule switched off there. Append-only: the newest holds.

    `ended` takes the override back; `numbers` are laid over the rule's own.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    rule = models.ForeignKey(Rule, on_delete=models.CASCADE, related_name="overrides")
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="rule_overrides")
    component = models.ForeignKey(
        Component, null=True, blank=True, on_delete=models.CASCADE, related_name="rule_overrides"
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=60)
    recorded_name = models.CharField(max_length=80, blank=True)
    off = models.BooleanField(default=False)
    ended = models.BooleanField(default=False)
    numbers = models.JSONField(default=dict, blank=True)
    why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-recorded_at", "-id"]

    def __str__(self) -> str:
        return f"{self.rule_id} at {self.property_id}"
