"""Systems, their components, how water goes, and what drains where."""

import uuid

from django.db import models
from django.db.models import F, Q

from jobs.models.properties import Property


class System(models.Model):
    """One installed drainage system at a property, judged by the design storm at `target_return_years`."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="systems")
    name = models.CharField(max_length=80)
    target_return_years = models.FloatField(default=10)
    installed_on = models.DateField(null=True, blank=True)
    ours = models.BooleanField(default=True)
    warranty_until = models.DateField(null=True, blank=True)
    handed_over_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["property_id", "name", "id"]

    def __str__(self) -> str:
        return self.name


class Component(models.Model):
    """One part of a system. `dimensions` holds known values only, `certainty` measured or assumed for each.

    A replaced component is retired and points to its successor. Sub-parts (grate, float) have `part_of` and no tag;
    pump, float, battery and alarm name their basin in `sits_in`. `place` is a list of [x_ft, y_ft] points.
    `slope_reason`: why a slope below the least was accepted; empty if nobody said. `retired_because`: what kind of end
    it was; only a failure counts against the life of its kind.
    """

    class End(models.TextChoices):
        FAILED = "failed", "it had failed"
        WORN = "worn", "worn, still working"
        PLANNED = "planned", "at its planned age, still working"
        NOT_NEEDED = "not_needed", "no longer needed"
        DAMAGED = "damaged", "damaged from outside"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="components")
    system = models.ForeignKey(System, null=True, blank=True, on_delete=models.SET_NULL, related_name="components")
    kind = models.CharField(max_length=24, db_index=True)
    kind_version = models.PositiveSmallIntegerField(default=1)
    tag = models.CharField(max_length=24, blank=True)
    tag_key = models.CharField(max_length=24, blank=True, editable=False)
    name = models.CharField(max_length=120, blank=True)
    dimensions = models.JSONField(default=dict, blank=True)
    certainty = models.JSONField(default=dict, blank=True)
    sits_in = models.ForeignKey("self", null=True, blank=True, on_delete=models.SET_NULL, related_name="holds")
    part_of = models.ForeignKey("self", null=True, blank=True, on_delete=models.SET_NULL, related_name="parts")
    place = models.JSONField(default=list, blank=True)
    place_certainty = models.CharField(max_length=8, blank=True)
    cover_in = models.FloatField(null=True, blank=True)
    installed_on = models.DateField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    retired_reason = models.CharField(max_length=200, blank=True)
    retired_because = models.CharField(max_length=10, choices=End.choices, blank=True)
    successor = models.ForeignKey("self", null=True, blank=True, on_delete=models.SET_NULL, related_name="predecessors")
    canopy = models.CharField(max_length=6, choices=Property.Canopy.choices, blank=True)
    slope_reason = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["property_id", "tag_key", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["property", "tag_key"],
                condition=Q(retired_on=None) & ~Q(tag_key=""),
                name="tag_unique_in_property",
            ),
        ]
        indexes = [models.Index(fields=["property", "kind"], name="component_by_property")]

    def __str__(self) -> str:
        return self.tag or f"{self.kind} {self.pk}"


class ComponentVersion(models.Model):
    """What was known of a component from `recorded_at` on: append-only, so that an earlier day computes the same.

    `data`: kind, tag, dimensions, certainty, installed_on, retired_on, retired_because, canopy,
    consequence, system_uid, sits_in_uid, part_of_uid (dates ISO).
    """

    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="versions")
    recorded_at = models.DateTimeField()
    data = models.JSONField()

    class Meta:
        ordering = ["component_id", "recorded_at", "id"]
        indexes = [models.Index(fields=["component", "-recorded_at"], name="version_by_component")]

    def __str__(self) -> str:
        return f"{self.component_id} at {self.recorded_at:%Y-%m-%d}"


class Connection(models.Model):
    """Water goes from one component to the next. Overflow carries only the excess and never counts in the rating."""

    class Kind(models.TextChoices):
        NORMAL = "normal", "normal"
        OVERFLOW = "overflow", "overflow only"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="connections")
    from_component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="goes_to")
    to_component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="comes_from")
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.NORMAL)
    certainty = models.CharField(max_length=8, default="assumed")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["from_component", "to_component"], name="connection_once"),
            models.CheckConstraint(condition=~Q(from_component=F("to_component")), name="connection_not_to_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.from_component_id} to {self.to_component_id}"


class DrainageArea(models.Model):
    """A surface that drains to a component: its area, runoff coefficient and time of concentration."""

    class Surface(models.TextChoices):
        ROOF = "roof", "roof"
        PAVED = "paved", "paved"
        LAWN = "lawn", "lawn"
        BED = "bed", "planting bed"
        POOL_DECK = "pool_deck", "pool deck"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="drainage_areas")
    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="drainage_areas")
    name = models.CharField(max_length=80, blank=True)
    surface = models.CharField(max_length=10, choices=Surface.choices)
    area_ft2 = models.FloatField()
    runoff_c = models.FloatField()
    concentration_min = models.FloatField(default=5)
    certainty = models.CharField(max_length=8, default="assumed")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(area_ft2__gt=0), name="drainage_area_positive"),
            models.CheckConstraint(condition=Q(runoff_c__gt=0) & Q(runoff_c__lte=1), name="runoff_c_in_range"),
            models.CheckConstraint(condition=Q(concentration_min__gte=5), name="concentration_at_least_5"),
        ]

    def __str__(self) -> str:
        return f"{self.surface} {self.area_ft2:g} ft2"
