"""Closeouts: what came in, byte for byte, and what it meant."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models import Property
from maintenance.models.visits import Visit


class CloseoutReceived(models.Model):
    """The exact bytes of one closeout as a client sent them, with digest, sender and both times. Never changed.

    Same uid and digest again is the same closeout; another body under the same uid is kept too (at most 5): the first
    has `body_no` 1 and alone is ever applied.
    """

    MOST_BODIES = 5

    class State(models.TextChoices):
        RECEIVED = "received", "received"
        APPLIED = "applied", "applied"
        NEEDS_OFFICE = "needs_office", "needs the office"
        UNMATCHED = "unmatched", "address not matched yet"
        SET_ASIDE = "set_aside", "set aside by the office"

    uid = models.UUIDField(db_index=True)
    body_no = models.PositiveSmallIntegerField(default=1)
    digest = models.CharField(max_length=64)
    body = models.BinaryField()
    sender = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    received_at = models.DateTimeField()
    phone_at = models.DateTimeField(null=True, blank=True)
    skew_s = models.FloatField(null=True, blank=True)
    via = models.CharField(max_length=10)
    state = models.CharField(max_length=12, choices=State.choices, default=State.RECEIVED, db_index=True)
    state_note = models.CharField(max_length=400, blank=True)
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.SET_NULL, related_name="received")
    property = models.ForeignKey(Property, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    tries = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(fields=["uid", "digest"], name="closeout_body_once"),
            models.UniqueConstraint(fields=["uid", "body_no"], name="closeout_body_no_once"),
            models.CheckConstraint(condition=Q(body_no__gte=1) & Q(body_no__lte=5), name="closeout_five_bodies"),
        ]

    def __str__(self) -> str:
        return f"closeout {self.uid}"


class Closeout(models.Model):
    """The record that ends a visit: one effective closeout a visit and technician."""

    uid = models.UUIDField(unique=True, default=uuid.uuid4)
    received = models.OneToOneField(CloseoutReceived, on_delete=models.PROTECT, related_name="applied")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="closeouts")
    technician = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    effective = models.BooleanField(default=True)
    arrived_at = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    lids_fastened = models.BooleanField()
    nobody_home = models.BooleanField(default=False)
    signature = models.TextField(blank=True)
    note = models.TextField(blank=True)
    applied_at = models.DateTimeField()
    summary = models.JSONField(default=dict)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "technician"], condition=Q(effective=True), name="closeout_effective_once"
            )
        ]

    def __str__(self) -> str:
        return f"closeout {self.uid}"


class CloseoutFlag(models.Model):
    """Something about a closeout a person must look at: reason, both sides, and when it was cleared."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    received = models.ForeignKey(CloseoutReceived, on_delete=models.CASCADE, related_name="flags")
    code = models.CharField(max_length=30)
    words = models.CharField(max_length=400)
    sides = models.JSONField(default=dict, blank=True)
    raised_at = models.DateTimeField()
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_by = models.CharField(max_length=60, blank=True)
    cleared_how = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["raised_at", "id"]
        constraints = [models.UniqueConstraint(fields=["received", "code", "words"], name="flag_once")]

    def __str__(self) -> str:
        return f"{self.code} on {self.received_id}"
