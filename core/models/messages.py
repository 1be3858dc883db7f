"""The outbox: one row per occasion and person, with named states."""

import uuid

from django.db import models
from django.db.models import Q


class Message(models.Model):
    """A message to one address about one occasion. `key` is unique, so an occasion is told once.

    `policy`: reminders at most once (a crash while sending ends as "unknown", shown to a person); cancelled and
    moved visits at least once, always with the same Message-ID.
    """

    class State(models.TextChoices):
        PENDING = "pending", "waiting"
        CLAIMED = "claimed", "taken by the worker"
        SENDING = "sending", "being sent"
        SENT = "sent", "sent"
        UNKNOWN = "unknown", "not known whether it arrived"
        FAILED = "failed", "failed"
        SKIPPED = "skipped", "no longer needed"

    class Policy(models.TextChoices):
        AT_MOST_ONCE = "at_most_once", "at most once"
        AT_LEAST_ONCE = "at_least_once", "at least once"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    key = models.CharField(max_length=200, unique=True)
    kind = models.CharField(max_length=30)
    channel = models.CharField(max_length=10, default="mail")
    policy = models.CharField(max_length=15, choices=Policy.choices, default=Policy.AT_MOST_ONCE)
    state = models.CharField(max_length=10, choices=State.choices, default=State.PENDING)
    to_address = models.CharField(max_length=254)
    holder_uid = models.UUIDField(null=True, blank=True, db_index=True)
    property_uid = models.UUIDField(null=True, blank=True, db_index=True)
    visit_uid = models.UUIDField(null=True, blank=True, db_index=True)
    context = models.JSONField(default=dict, blank=True)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    html = models.TextField(blank=True)
    headers = models.JSONField(default=dict, blank=True)
    message_id = models.CharField(max_length=120)
    created_at = models.DateTimeField()
    due_at = models.DateTimeField()
    not_after = models.DateTimeField(null=True, blank=True)
    next_attempt_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    claim = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(
                fields=["next_attempt_at"],
                name="message_waiting",
                condition=Q(state__in=["pending", "claimed", "sending"]),
            ),
            models.Index(fields=["state", "-id"], name="message_state"),
        ]

    def __str__(self) -> str:
        return self.key


class Suppression(models.Model):
    """An address that gets nothing any more, and why (bounce, complaint, asked)."""

    address = models.CharField(max_length=254, unique=True)
    reason = models.CharField(max_length=40)
    since = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.address}: {self.reason}"


class Heartbeat(models.Model):
    """Last sign of life of a part of the server (worker, beat, outbox, scan)."""

    name = models.CharField(max_length=40, unique=True)
    at = models.DateTimeField()
    detail = models.CharField(max_length=200, blank=True)

    def __str__(self) -> str:
        return f"{self.name} {self.at:%Y-%m-%d %H:%M:%S}"
