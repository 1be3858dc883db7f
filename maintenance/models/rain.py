"""Rain: gauges and their records, and the depth-duration-frequency tables systems are judged by."""

import uuid

from django.db import models

from jobs.models import Area


class Gauge(models.Model):
    """A rain gauge and where its record comes from."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    name = models.CharField(max_length=80, unique=True)
    zone = models.CharField(max_length=50)
    source = models.CharField(max_length=300)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class RainRow(models.Model):
    """Rain over one day or one hour at a gauge. Append-only: a corrected value is a later row for the same time."""

    gauge = models.ForeignKey(Gauge, on_delete=models.CASCADE, related_name="rows")
    day = models.DateField()
    hour = models.SmallIntegerField(default=-1)
    depth_mm = models.FloatField()
    recorded_at = models.DateTimeField(db_index=True)
    flag = models.CharField(max_length=20, blank=True)

    class Meta:
        ordering = ["gauge_id", "day", "hour", "recorded_at", "id"]
        indexes = [models.Index(fields=["gauge", "day"], name="rain_by_day")]

    def __str__(self) -> str:
        return f"{self.gauge_id} {self.day} {self.depth_mm:g} mm"


class RainTable(models.Model):
    """A depth-duration-frequency table for an area, or for the whole company where `area` is empty.

    `durations_min` ascending, `return_years` ascending, `depths_in[i][j]` for duration i and return period j.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    area = models.OneToOneField(Area, null=True, blank=True, on_delete=models.CASCADE, related_name="rain_table")
    name = models.CharField(max_length=80)
    durations_min = models.JSONField()
    return_years = models.JSONField()
    depths_in = models.JSONField()
    source = models.CharField(max_length=300)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["area_id", "-recorded_at"]

    def __str__(self) -> str:
        return self.name
