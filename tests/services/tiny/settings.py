"""The server's own wiring around a one-page site: starts in a second, which the tests of the supervisor need."""

from siltline.settings import *  # noqa: F403

INSTALLED_APPS = ["siltline", "tests.services.tiny"]
MIDDLEWARE: list[str] = []
TEMPLATES: list[dict[str, object]] = []
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
AUTH_USER_MODEL = "auth.User"
ROOT_URLCONF = "tests.services.tiny.urls"
