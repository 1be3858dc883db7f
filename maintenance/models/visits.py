"""Visits: one trip to one property with its tasks."""

import uuid

from django.conf import settings
from django.db import models

from jobs.models import Component, Customer, Job, Property


class Visit(models.Model):
    """One trip to one property. Moves only as maintenance/decide/visit_moves.py allows.

    Times are the property's: local date, optional local start and arrival span, the IANA zone copied when the day
    was agreed. `starts_at` is derived. `sequence` counts changes of date, time and state (RFC 5545 3.8.7.4).
    """

    class State(models.TextChoices):
        PROPOSED = "proposed", "proposed"
        OFFERED = "offered", "offered"
        AGREED = "agreed", "agreed"
        BEGUN = "begun", "begun"
        DONE = "done", "done"
        CALLED_OFF = "called_off", "called off"

    class Cover(models.TextChoices):
        COVERED = "covered", "covered by the agreement"
        CHARGEABLE = "chargeable", "chargeable"
        WARRANTY = "warranty", "warranty"
        OUR_FAULT = "our_fault", "our fault"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="visits")
    state = models.CharField(max_length=10, choices=State.choices, default=State.PROPOSED, db_index=True)
    cover = models.CharField(max_length=10, choices=Cover.choices, default=Cover.CHARGEABLE)
    agreement = models.ForeignKey(
        "maintenance.ServiceAgreement", null=True, blank=True, on_delete=models.SET_NULL, related_name="visits"
    )
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.SET_NULL, related_name="visits")
    local_date = models.DateField(null=True, blank=True)
    local_start = models.TimeField(null=True, blank=True)
    span_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    zone = models.CharField(max_length=50)
    starts_at = models.DateTimeField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(default=0)
    place_in_day = models.PositiveSmallIntegerField(default=0)
    no_sooner_than = models.DateField(null=True, blank=True)
    best_on = models.DateField(null=True, blank=True)
    no_later_than = models.DateField(null=True, blank=True)
    notice_only = models.BooleanField(default=False)
    offered_at = models.DateTimeField(null=True, blank=True)
    answer_by = models.DateField(null=True, blank=True)
    agreed_at = models.DateTimeField(null=True, blank=True)
    agreed_by = models.CharField(max_length=60, blank=True)
    begun_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    called_off_why = models.CharField(max_length=300, blank=True)
    note = models.TextField(blank=True)
    customer_note = models.TextField(blank=True)
    sequence = models.PositiveIntegerField(default=0)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["local_date", "place_in_day", "id"]
        indexes = [
            models.Index(fields=["local_date", "state"], name="visit_by_day"),
            models.Index(fields=["property", "-local_date"], name="visit_by_property"),
        ]

    def __str__(self) -> str:
        return f"visit {self.pk} {self.state}"


class VisitTechnician(models.Model):
    """Who goes. The lead's route sheet carries the visit in driving order."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="technicians")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="visit_places")
    lead = models.BooleanField(default=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["visit", "user"], name="technician_once")]

    def __str__(self) -> str:
        return f"{self.user_id} at {self.visit_id}"


class VisitTask(models.Model):
    """One task on one component within a visit; `words` and `latest_on` are copied from the window it came from."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="tasks")
    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="visit_tasks")
    task = models.CharField(max_length=30)
    rule_code = models.CharField(max_length=60, blank=True)
    words = models.CharField(max_length=400, blank=True)
    latest_on = models.DateField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(default=0)
    outcome = models.CharField(max_length=16, blank=True)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["visit", "component", "task"], name="visit_task_once")]

    def __str__(self) -> str:
        return f"{self.task} {self.component_id}"


class OfferedDay(models.Model):
    """A day the homeowner may choose for an offered visit."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="offered_days")
    local_date = models.DateField()
    local_start = models.TimeField(null=True, blank=True)
    span_minutes = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["local_date", "id"]
        constraints = [models.UniqueConstraint(fields=["visit", "local_date"], name="offered_day_once")]

    def __str__(self) -> str:
        return f"{self.visit_id} {self.local_date}"


class CallToMake(models.Model):
    """Someone to ring: an offer nobody answered, a person without a working address. Ticked when told."""

    class Reason(models.TextChoices):
        NO_ANSWER = "no_answer", "no answer to the offer"
        NO_CHANNEL = "no_channel", "no working e-mail"
        ANOTHER_DAY = "another_day", "asked for another day"
        FOLLOW_UP = "follow_up", "the crew wished a follow-up"
        TOLD_US = "told_us", "wrote something to us"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="calls_to_make")
    customer = models.ForeignKey(Customer, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.CASCADE, related_name="calls_to_make")
    reason = models.CharField(max_length=12, choices=Reason.choices)
    key = models.CharField(max_length=200, unique=True)
    note = models.CharField(max_length=400, blank=True)
    since = models.DateTimeField()
    told_at = models.DateTimeField(null=True, blank=True)
    told_by = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["since", "id"]

    def __str__(self) -> str:
        return self.key


class ServiceAgreement(models.Model):
    """What a customer has agreed to for a year: price, rules covered, who approves."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="agreements")
    customer = models.ForeignKey(Customer, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    price_cents = models.PositiveIntegerField(default=0)
    starts_on = models.DateField()
    ends_on = models.DateField()
    renews = models.BooleanField(default=False)
    rules = models.ManyToManyField("maintenance.Rule", blank=True, related_name="+")
    note = models.TextField(blank=True)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["property_id", "-starts_on", "id"]

    def __str__(self) -> str:
        return f"agreement {self.starts_on} to {self.ends_on}"
