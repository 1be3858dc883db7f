"""Staff accounts and what lets a program or a link in."""

import uuid

from django.contrib.auth.models import AbstractUser
from django.db import models


class User(AbstractUser):
    """A person of the company. Homeowners have no account: they come by link (`Token`, kind link)."""

    class Role(models.TextChoices):
        OFFICE = "office", "office"
        CREW = "crew", "crew"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.CREW)
    phone = models.CharField(max_length=40, blank=True)
    initials = models.CharField(max_length=4, blank=True)

    @property
    def display_name(self) -> str:
        """Full name, or the user name where none is recorded."""
        return self.get_full_name() or self.username


class Token(models.Model):
    """A secret in someone's hands: an API token of a user, or a homeowner's link. Only its keyed hash is kept."""

    class Kind(models.TextChoices):
        API = "api", "API token"
        LINK = "link", "homeowner link"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    label = models.CharField(max_length=80, blank=True)
    lookup = models.CharField(max_length=12, unique=True)
    digest = models.CharField(max_length=64)
    user = models.ForeignKey(User, null=True, blank=True, on_delete=models.CASCADE, related_name="tokens")
    holder_uid = models.UUIDField(null=True, blank=True, db_index=True)
    scope = models.JSONField(default=dict, blank=True)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    used_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.lookup}"
