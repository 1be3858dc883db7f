"""System checks with id and hint for each misconfiguration we can foresee."""

import os

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register


@register(Tags.security, deploy=True)
def keys_are_private(app_configs, **kwargs) -> list[CheckMessage]:
    """The file with this installation's keys is readable by its owner alone."""
    path = settings.VAR_DIR / "secrets.json"
    if path.exists() and path.stat().st_mode & 0o077:
        return [Error(f"{path} can be read by others.", hint=f"Run: chmod 600 {path}", id="siltline.E001")]
    return []


@register
def public_address_has_scheme(app_configs, **kwargs) -> list[CheckMessage]:
    """Links in mail and feeds are absolute."""
    if not settings.PUBLIC_URL.startswith(("http://", "https://")):
        return [
            Error(
                f"SILTLINE_PUBLIC_URL is {settings.PUBLIC_URL!r}: it must begin with http:// or https://.",
                hint="Set it to the address people type, such as https://office.example.",
                id="siltline.E002",
            )
        ]
    return []


@register(deploy=True)
def mail_reaches_people(app_configs, **kwargs) -> list[CheckMessage]:
    """Mail into files is for trying out."""
    if settings.EMAIL_BACKEND == "core.mailbox.Backend":
        return [
            Warning(
                "Mail is written to files and reaches nobody.",
                hint="Set SILTLINE_SMTP_HOST.",
                id="siltline.W001",
            )
        ]
    return []


@register
def database_suits_the_queue(app_configs, **kwargs) -> list[CheckMessage]:
    """Several machines on one SQLite file lose data."""
    if settings.REDIS_URL and not settings.DATABASE_URL:
        return [
            Warning(
                "REDIS_URL is set but DATABASE_URL is not: workers on other machines would not share the database.",
                hint="Set DATABASE_URL to a PostgreSQL database, or take REDIS_URL away.",
                id="siltline.W002",
            )
        ]
    return []


@register
def tasks_are_not_eager(app_configs, **kwargs) -> list[CheckMessage]:
    """Eager tasks hide what a queue does."""
    if getattr(settings, "CELERY_TASK_ALWAYS_EAGER", False) and not os.environ.get("PYTEST_CURRENT_TEST"):
        return [
            Warning(
                "CELERY_TASK_ALWAYS_EAGER is on: nothing waits for the worker.",
                hint="Take it out of the settings.",
                id="siltline.W003",
            )
        ]
    return []
