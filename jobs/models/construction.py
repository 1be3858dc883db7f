"""Jobs of construction and the photos of anything at a property."""

import uuid

from django.db import models

from core.models import StoredFile
from jobs.models.properties import Property
from jobs.models.systems import Component, System


class Job(models.Model):
    """A piece of construction: it waits for one thing at a time."""

    class Kind(models.TextChoices):
        INSTALL = "install", "install"
        EXTENSION = "extension", "extension"
        REPAIR = "repair", "repair"

    class Stage(models.TextChoices):
        ASKED = "asked", "asked"
        MEASURED = "measured", "measured"
        PRICED = "priced", "priced"
        ACCEPTED = "accepted", "accepted"
        DIGGING = "digging", "digging"
        IN_SERVICE = "in_service", "in service"
        TURNED_DOWN = "turned_down", "turned down"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="jobs")
    system = models.ForeignKey(System, null=True, blank=True, on_delete=models.SET_NULL, related_name="jobs")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    stage = models.CharField(max_length=12, choices=Stage.choices, default=Stage.ASKED)
    title = models.CharField(max_length=120)
    note = models.TextField(blank=True)
    waits_for = models.CharField(max_length=120, blank=True)
    price_cents = models.PositiveIntegerField(null=True, blank=True)
    locate_number = models.CharField(max_length=40, blank=True)
    locate_asked_on = models.DateField(null=True, blank=True)
    starts_on = models.DateField(null=True, blank=True)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.title


class JobStep(models.Model):
    """When a job reached a stage, and why where it needs saying (digging without a locate number)."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="steps")
    stage = models.CharField(max_length=12, choices=Job.Stage.choices)
    at = models.DateTimeField()
    who = models.CharField(max_length=60)
    note = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.job_id} {self.stage}"


class Photo(models.Model):
    """A picture of something at a property; bytes in `StoredFile`, served only re-encoded and without metadata."""

    class Moment(models.TextChoices):
        BEFORE = "before", "before"
        AFTER = "after", "after"
        PLATE = "plate", "rating plate"
        TRENCH = "trench", "open trench"
        MARKS = "marks", "locate marks"
        OTHER = "other", "other"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, null=True, blank=True, on_delete=models.CASCADE, related_name="photos")
    component = models.ForeignKey(Component, null=True, blank=True, on_delete=models.SET_NULL, related_name="photos")
    closeout_uid = models.UUIDField(null=True, blank=True, db_index=True)
    original = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    shown = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    moment = models.CharField(max_length=8, choices=Moment.choices, default=Moment.OTHER)
    caption = models.CharField(max_length=200, blank=True)
    width_px = models.PositiveIntegerField(default=0)
    height_px = models.PositiveIntegerField(default=0)
    taken_at = models.DateTimeField()
    taken_by = models.CharField(max_length=60)

    class Meta:
        ordering = ["-taken_at", "-id"]

    def __str__(self) -> str:
        return self.caption or f"photo {self.pk}"
