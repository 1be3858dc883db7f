"""Settings of the company: append-only, so that an earlier day's result can be computed again."""

from django.db import models


class CompanySettings(models.Model):
    """One version of the settings. The newest recorded before an instant governs it (`core.company.at`)."""

    recorded_at = models.DateTimeField(db_index=True)
    recorded_by = models.CharField(max_length=60)
    values = models.JSONField(default=dict)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "company settings"

    def __str__(self) -> str:
        return f"settings of {self.recorded_at:%Y-%m-%d %H:%M}"


class StoredFile(models.Model):
    """Bytes kept under their SHA-256 (`core.files`). The row is written after the bytes are safe on disk."""

    sha256 = models.CharField(max_length=64, unique=True)
    size_bytes = models.PositiveIntegerField()
    media_type = models.CharField(max_length=60)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.sha256[:12]
