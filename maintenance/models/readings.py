"""What was measured, graded and done. Append-only: a wrong reading is withdrawn by a later row, never changed."""

import uuid

from django.db import models

from jobs.models import Component


class Reading(models.Model):
    """One measured or graded value at one time by one person.

    `value` and `unit` are as entered; `canonical` is the value in the code's own unit (jobs/kinds/words.py);
    `grade` is set instead of a value where judged by eye. `measured_at` is corrected for the phone's skew where
    that exceeds 5 minutes; the phone's own time is kept.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="readings")
    code = models.CharField(max_length=30)
    value = models.FloatField(null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    canonical = models.FloatField(null=True, blank=True)
    grade = models.CharField(max_length=16, blank=True)
    text = models.CharField(max_length=400, blank=True)
    moment = models.CharField(max_length=8, default="before", choices=[("before", "before"), ("after", "after")])
    measured_at = models.DateTimeField()
    phone_at = models.DateTimeField(null=True, blank=True)
    skew_s = models.FloatField(null=True, blank=True)
    recorded_at = models.DateTimeField(db_index=True)
    measured_by = models.CharField(max_length=60)
    entered_by = models.CharField(max_length=60)
    by_owner = models.BooleanField(default=False)
    closeout = models.ForeignKey(
        "maintenance.Closeout", null=True, blank=True, on_delete=models.SET_NULL, related_name="readings"
    )
    withdraws = models.ForeignKey("self", null=True, blank=True, on_delete=models.SET_NULL, related_name="withdrawn_by")
    odd = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["component_id", "measured_at", "id"]
        indexes = [models.Index(fields=["component", "code", "measured_at"], name="reading_by_component")]

    def __str__(self) -> str:
        return f"{self.code} {self.grade or self.value}"


class TaskDone(models.Model):
    """A task reported for a component: outcome, day, and for a cleaning the silt left behind (fill, 0 to 1)."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="tasks_done")
    task = models.CharField(max_length=30)
    outcome = models.CharField(max_length=16)
    reason = models.CharField(max_length=200, blank=True)
    done_on = models.DateField()
    recorded_at = models.DateTimeField(db_index=True)
    left_fill = models.FloatField(null=True, blank=True)
    by = models.CharField(max_length=60)
    closeout = models.ForeignKey(
        "maintenance.Closeout", null=True, blank=True, on_delete=models.SET_NULL, related_name="tasks_done"
    )

    class Meta:
        ordering = ["component_id", "done_on", "id"]
        verbose_name_plural = "tasks done"
        indexes = [models.Index(fields=["component", "task", "-done_on"], name="done_by_component")]

    def __str__(self) -> str:
        return f"{self.task} {self.outcome} {self.done_on}"
