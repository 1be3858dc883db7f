"""A refresh of the whole register, cut into pieces that several workers take: its progress, and who takes what."""

import uuid

from django.db import models
from django.db.models import Q


class RefreshRun(models.Model):
    """One refresh of all properties: who began it, how far it is. At most one is open
    (running or stopped): `open` is 1 while it is, NULL afterwards, and unique.

    A stopped run keeps what is done and can be resumed; pieces under way when it is stopped are finished.
    """

    class State(models.TextChoices):
        RUNNING = "running", "running"
        STOPPED = "stopped", "stopped"
        DONE = "done", "done"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.RUNNING)
    as_of = models.DateField()
    started_at = models.DateTimeField()
    started_by = models.CharField(max_length=60)
    started_by_name = models.CharField(max_length=80, blank=True)
    changed_at = models.DateTimeField()
    changed_by = models.CharField(max_length=60)
    finished_at = models.DateTimeField(null=True, blank=True)
    properties = models.PositiveIntegerField(default=0)
    result = models.JSONField(default=dict, blank=True)
    open = models.PositiveSmallIntegerField(null=True, blank=True, default=1, unique=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"refresh of {self.as_of}, {self.state}"


class RefreshPiece(models.Model):
    """One piece of a run. Taken by a conditional UPDATE with a lease; a piece whose lease is over is taken again.

    `stage` 0 learns, 1 computes windows of the properties from `first_id` to `last_id`, 2 follows when all are done.
    A stage begins when the one before it is done.
    """

    run = models.ForeignKey(RefreshRun, on_delete=models.CASCADE, related_name="pieces")
    number = models.PositiveIntegerField()
    stage = models.PositiveSmallIntegerField()
    first_id = models.BigIntegerField(default=0)
    last_id = models.BigIntegerField(default=0)
    properties = models.PositiveIntegerField(default=0)
    computed = models.PositiveIntegerField(default=0)
    claim = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    done_at = models.DateTimeField(null=True, blank=True)
    failed = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["run_id", "number"]
        constraints = [models.UniqueConstraint(fields=["run", "number"], name="refresh_piece_once")]
        indexes = [models.Index(fields=["run", "stage"], condition=Q(done_at=None), name="refresh_piece_waiting")]

    def __str__(self) -> str:
        return f"piece {self.number} of run {self.run_id}"
