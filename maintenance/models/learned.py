"""What the company's own yards have taught, and readings a person should look at. Append-only, by `recorded_at`.

An earlier day is computed with the newest run recorded by its end; nothing here is ever changed in place.
"""

import uuid

from django.db import models

from jobs.models import Component
from maintenance.models.readings import Reading


class LearnedRate(models.Model):
    """One group of similar parts in one night's pooling: the silting rate it has, and what that stands on.

    `group` is "kind/canopy"; `mu`, `tau` are mean and spread of the log of fill per mean year, `s` the log error of a
    reading, `load` the shares of rain, leaf fall and a constant part. `learned` False: the group was thin and keeps
    its rule of thumb, `why` says what is missing. `parts` of `parts_known` parts with readings were used.
    """

    run = models.UUIDField(default=uuid.uuid4)
    recorded_at = models.DateTimeField(db_index=True)
    as_of = models.DateField()
    group = models.CharField(max_length=40)
    mu = models.FloatField()
    tau = models.FloatField()
    s = models.FloatField()
    cycle_sd = models.FloatField(null=True, blank=True)
    load = models.JSONField()
    readings = models.PositiveIntegerField(default=0)
    parts = models.PositiveIntegerField(default=0)
    parts_known = models.PositiveIntegerField(default=0)
    learned = models.BooleanField(default=False)
    s_learned = models.BooleanField(default=False)
    cycle_sd_learned = models.BooleanField(default=False)
    thumb_mu = models.FloatField()
    source = models.CharField(max_length=120)
    why = models.CharField(max_length=200)

    class Meta:
        ordering = ["-recorded_at", "group"]
        constraints = [models.UniqueConstraint(fields=["run", "group"], name="learned_rate_once")]

    def __str__(self) -> str:
        return f"{self.group} on {self.as_of}"


class LearnedLife(models.Model):
    """Life of one kind of part that wears, from the company's own failures and survivors, in one night's run.

    `shape` and `scale_years` (equivalent years) are fitted where `learned`; under ten failures they are the assumed
    ones and pages show the assumed life and the count.
    """

    run = models.UUIDField(default=uuid.uuid4)
    recorded_at = models.DateTimeField(db_index=True)
    as_of = models.DateField()
    kind = models.CharField(max_length=24)
    failures = models.PositiveIntegerField(default=0)
    survivors = models.PositiveIntegerField(default=0)
    shape = models.FloatField()
    scale_years = models.FloatField()
    assumed_shape = models.FloatField()
    assumed_median_years = models.FloatField()
    learned = models.BooleanField(default=False)
    why = models.CharField(max_length=200)

    class Meta:
        ordering = ["-recorded_at", "kind"]
        constraints = [models.UniqueConstraint(fields=["run", "kind"], name="learned_life_once")]

    def __str__(self) -> str:
        return f"{self.kind} on {self.as_of}"


class PumpLoad(models.Model):
    """How long the rain made one pump run, and how often it started, over a stretch of the gauge's record.

    `estimated`: from daily rain, so starts are an upper bound. `unknown_hours`: time without a rain value, for which
    nothing is counted. Both yearly figures are over the known time alone. `runoff_area_m2` (runoff coefficient x area
    above it), `duty_m3_h` and `active_m3` (between the floats) are this pump's share of its basin's.
    """

    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="pump_loads")
    recorded_at = models.DateTimeField()
    from_on = models.DateField()
    until_on = models.DateField()
    run_hours = models.FloatField()
    starts = models.FloatField()
    unknown_hours = models.FloatField(default=0.0)
    hours_per_year = models.FloatField()
    starts_per_year = models.FloatField()
    runoff_area_m2 = models.FloatField(default=0.0)
    duty_m3_h = models.FloatField(default=0.0)
    active_m3 = models.FloatField(default=0.0)
    register_revision = models.PositiveIntegerField(default=0)
    estimated = models.BooleanField(default=False)
    gauge = models.CharField(max_length=80)

    class Meta:
        ordering = ["component_id", "recorded_at", "id"]
        indexes = [models.Index(fields=["component", "-recorded_at"], name="pump_load_by_component")]

    def __str__(self) -> str:
        return f"{self.component_id}: {self.run_hours:.1f} h"


class OddReading(models.Model):
    """A judgement on one reading (`reading` None: on the part itself): what looks odd, or that it no longer does.

    The newest row for a reading and code counts, a person's before any computed one. `code` and `params` make the
    words (`maintenance.forecast.oddities.ODD_WORDS`). Nothing is thrown away: a person who finds a reading wrong
    withdraws it by a later row.
    """

    class Verdict(models.TextChoices):
        ODD = "odd", "looks odd"
        GONE = "gone", "no longer looks odd"
        SOUND = "sound", "odd but right"
        WRONG = "wrong", "wrong, withdrawn"

    uid = models.UUIDField(default=uuid.uuid4, unique=True)
    component = models.ForeignKey(Component, on_delete=models.CASCADE, related_name="odd_readings")
    reading = models.ForeignKey(Reading, null=True, blank=True, on_delete=models.CASCADE, related_name="judgements")
    code = models.CharField(max_length=20)
    params = models.JSONField(default=dict)
    verdict = models.CharField(max_length=5, choices=Verdict.choices, default=Verdict.ODD)
    by_person = models.BooleanField(default=False)
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=60)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-recorded_at", "-id"]
        indexes = [models.Index(fields=["component", "code", "-recorded_at"], name="odd_by_component")]

    def __str__(self) -> str:
        return f"{self.code} {self.verdict}"
