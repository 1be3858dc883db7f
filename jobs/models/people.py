"""Customers and what they are to a property."""

import uuid

from django.db import models
from django.db.models import F, Q


class Customer(models.Model):
    """A person or association, reached by e-mail or phone. One customer may have several properties."""

    class Kind(models.TextChoices):
        PERSON = "person", "person"
        ASSOCIATION = "association", "association"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.PERSON)
    name = models.CharField(max_length=120)
    email = models.CharField(max_length=254, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=5, default="en")
    note = models.TextField(blank=True)
    search = models.CharField(max_length=1000, blank=True, editable=False)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class PropertyRole(models.Model):
    """What a customer is at a property, from when until when, and what they may decide or are told."""

    class Role(models.TextChoices):
        OWNER = "owner", "owner"
        TENANT = "tenant", "tenant"
        MANAGER = "manager", "manager"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    property = models.ForeignKey("jobs.Property", on_delete=models.CASCADE, related_name="roles")
    customer = models.ForeignKey(Customer, on_delete=models.CASCADE, related_name="roles")
    role = models.CharField(max_length=8, choices=Role.choices)
    from_date = models.DateField()
    until_date = models.DateField(null=True, blank=True)
    agrees_days = models.BooleanField(default=True)
    approves_cost = models.BooleanField(default=False)
    gets_messages = models.BooleanField(default=True)

    class Meta:
        ordering = ["property_id", "role", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(until_date=None) | Q(until_date__gte=F("from_date")), name="role_ends_after_start"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.customer_id} {self.role} of {self.property_id}"
