"""Properties, the areas one trip covers, hazards, and who of the crew may see a property."""

import uuid

from django.conf import settings
from django.db import models

from core.secret_field import SecretField


class Area(models.Model):
    """A named group of properties that one trip covers."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    name = models.CharField(max_length=80, unique=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Property(models.Model):
    """One address with its plan, access notes, hazards and people.

    `revision` rises with every write to anything at the property; windows remember the one they were computed from.
    Plan coordinates are feet east and north of `corner`, a named corner of the house.
    """

    class Consequence(models.TextChoices):
        BUILDING = "building", "water into a building"
        OUTDOOR_ROOM = "outdoor_room", "a finished outdoor room"
        LAWN = "lawn", "a lawn or bed"

    class Canopy(models.TextChoices):
        OPEN = "open", "open sky"
        SOME = "some", "some trees"
        HEAVY = "heavy", "heavy trees overhead"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    address = models.CharField(max_length=160)
    city = models.CharField(max_length=80, blank=True)
    region = models.CharField(max_length=40, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    zone = models.CharField(max_length=50)
    lat = models.FloatField(null=True, blank=True)
    lon = models.FloatField(null=True, blank=True)
    area = models.ForeignKey(Area, null=True, blank=True, on_delete=models.SET_NULL, related_name="properties")
    access_note = models.TextField(blank=True)
    gate_code = SecretField(blank=True)
    notice_only = models.BooleanField(default=False)
    consequence = models.CharField(max_length=12, choices=Consequence.choices, default=Consequence.BUILDING)
    canopy = models.CharField(max_length=6, choices=Canopy.choices, default=Canopy.SOME)
    corner = models.CharField(max_length=80, blank=True)
    plan = models.JSONField(default=dict, blank=True)
    note = models.TextField(blank=True)
    search = models.CharField(max_length=1000, blank=True, editable=False)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["address", "id"]
        verbose_name_plural = "properties"

    def __str__(self) -> str:
        return self.address


class Hazard(models.Model):
    """Something on site that can hurt someone or be broken. Shown on every visit and drawing until gone."""

    class Kind(models.TextChoices):
        CABLE = "cable", "shallow cable"
        IRRIGATION = "irrigation", "irrigation line"
        GAS = "gas", "gas line"
        WATER = "water", "water line"
        DOG = "dog", "dog"
        SOFT_GROUND = "soft_ground", "soft ground"
        LOOSE_LID = "loose_lid", "loose lid or grate"
        TRAFFIC = "traffic", "traffic at the curb"
        OTHER = "other", "something else"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="hazards")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    note = models.CharField(max_length=400, blank=True)
    x_ft = models.FloatField(null=True, blank=True)
    y_ft = models.FloatField(null=True, blank=True)
    depth_in = models.FloatField(null=True, blank=True)
    found_at = models.DateTimeField()
    gone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} at {self.property_id}"


class PropertyAccess(models.Model):
    """A technician may see this property: a visit there, an assignment by the office, or a declared storm."""

    class Reason(models.TextChoices):
        VISIT = "visit", "has or had a visit there"
        OFFICE = "office", "assigned by the office"
        STORM = "storm", "declared storm"

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="access")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="property_access")
    reason = models.CharField(max_length=8, choices=Reason.choices)
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["property", "user", "reason"], name="access_once"),
        ]

    def __str__(self) -> str:
        return f"{self.user_id} sees {self.property_id}"
