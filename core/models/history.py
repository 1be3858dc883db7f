"""Append-only record of every change. A trigger on both engines refuses UPDATE and DELETE."""

from django.db import models


class History(models.Model):
    """One change of one thing: who, when, by which door, before and after of the changed fields.

    Customers stand here by uid, never by name, so that erasure leaves the engineering record whole.
    """

    act_id = models.UUIDField(db_index=True)
    at = models.DateTimeField(db_index=True)
    who = models.CharField(max_length=60)
    who_name = models.CharField(max_length=80, blank=True)
    via = models.CharField(max_length=10)
    noun = models.CharField(max_length=30)
    object_uid = models.UUIDField()
    property_uid = models.UUIDField(null=True, blank=True)
    action = models.CharField(max_length=30)
    changes = models.JSONField(default=dict)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "history"
        indexes = [
            models.Index(fields=["object_uid", "-id"], name="history_object"),
            models.Index(fields=["property_uid", "-id"], name="history_property"),
        ]

    def __str__(self) -> str:
        return f"{self.action} {self.noun} {self.object_uid}"
