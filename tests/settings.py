"""Settings of the test run: everything writable in a temporary folder, fast password hashing, no network."""

import os
import tempfile
from pathlib import Path

os.environ.setdefault("PYTHONTZPATH", "")
if not Path(os.environ.get("SILTLINE_VAR", "")).name.startswith("siltline-test-"):
    # Any other folder is somebody's data: tests never write there.
    os.environ["SILTLINE_VAR"] = tempfile.mkdtemp(prefix="siltline-test-")
os.environ.setdefault("SILTLINE_PUBLIC_URL", "http://127.0.0.1:8000")

from siltline.settings import *  # noqa: F403
from siltline.settings import DATABASE_URL, DATABASES, REST_FRAMEWORK, VAR_DIR

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
AXES_ENABLED = True
REST_FRAMEWORK = {**REST_FRAMEWORK, "DEFAULT_THROTTLE_CLASSES": []}
if not DATABASE_URL:
    # Races need a real file: an in-memory database shares one connection between threads.
    DATABASES["default"]["TEST"] = {"NAME": str(Path(VAR_DIR) / "test.sqlite3")}
# The folder collectstatic would make; without it each client made warns.
(VAR_DIR / "static").mkdir(parents=True, exist_ok=True)
