"""Calendar feeds: secret addresses, revocable one by one, and the event bytes made once a revision."""

import uuid

from django.conf import settings
from django.db import models

from jobs.models import Customer
from maintenance.models.visits import Visit


class Feed(models.Model):
    """A secret calendar address of a technician, the company or a homeowner. Only the keyed hash is kept.

    `body_tag` is the ETag of the octets served last, `body_changed_at` when they became other ones: entries leave a
    feed without a revision, so that no newest revision could say it.
    """

    class Kind(models.TextChoices):
        TECHNICIAN = "technician", "technician"
        COMPANY = "company", "company"
        HOMEOWNER = "homeowner", "homeowner"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    label = models.CharField(max_length=80, blank=True)
    lookup = models.CharField(max_length=12, unique=True)
    digest = models.CharField(max_length=64)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="feeds"
    )
    customer = models.ForeignKey(Customer, null=True, blank=True, on_delete=models.CASCADE, related_name="feeds")
    alarm_minutes = models.PositiveIntegerField(null=True, blank=True)
    created_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_fetched_at = models.DateTimeField(null=True, blank=True)
    body_tag = models.CharField(max_length=40, blank=True)
    body_changed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.kind} feed {self.lookup}"


class EventFragment(models.Model):
    """VEVENT bytes of one visit for one audience, made once per revision.

    `stamp` names what else they were made from: the register's revision, the zone rules, the format. `changed_at` is
    the LAST-MODIFIED within them; it grows whenever their content does.
    """

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="fragments")
    audience = models.CharField(max_length=20)
    revision = models.PositiveIntegerField()
    stamp = models.CharField(max_length=80, blank=True)
    changed_at = models.DateTimeField(null=True, blank=True)
    body = models.BinaryField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["visit", "audience"], name="fragment_once")]

    def __str__(self) -> str:
        return f"{self.visit_id} {self.audience} r{self.revision}"


class MessageChoice(models.Model):
    """A customer's wish about one kind of message: off since, or opted in since."""

    customer = models.ForeignKey(Customer, on_delete=models.CASCADE, related_name="message_choices")
    kind = models.CharField(max_length=30)
    wanted = models.BooleanField()
    since = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["customer", "kind"], name="choice_once")]

    def __str__(self) -> str:
        return f"{self.customer_id} {self.kind}: {self.wanted}"
