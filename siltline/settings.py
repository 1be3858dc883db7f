"""Settings by environment; importable with no environment at all. Each name is documented in docs/operations.md."""

import os
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from whitenoise.compress import Compressor

from siltline import secrets_file

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = Path(os.environ.get("SILTLINE_VAR", BASE_DIR / "var")).resolve()


def _flag(name: str, default: bool = False) -> bool:
    return os.environ.get(name, "1" if default else "0").strip().lower() in {"1", "true", "yes", "on"}


def _list(name: str, default: str = "") -> list[str]:
    return [part.strip() for part in os.environ.get(name, default).split(",") if part.strip()]


BIND = os.environ.get("SILTLINE_BIND", "127.0.0.1")
PORT = int(os.environ.get("SILTLINE_PORT", "8000"))
PUBLIC_URL = os.environ.get("SILTLINE_PUBLIC_URL", f"http://127.0.0.1:{PORT}").rstrip("/")
DATABASE_URL = os.environ.get("DATABASE_URL", "")
REDIS_URL = os.environ.get("REDIS_URL", "")
EMBEDDED = not REDIS_URL
BUILD_VERSION = "0.1.0"

DEBUG = _flag("SILTLINE_DEBUG")
_SECRETS = secrets_file.load(VAR_DIR)
SECRET_KEY = os.environ.get("SILTLINE_SECRET_KEY") or _SECRETS["secret_key"]
FIELD_KEYS = _list("SILTLINE_FIELD_KEYS") or _SECRETS["field_keys"]
ALLOWED_HOSTS = _list("SILTLINE_ALLOWED_HOSTS", "127.0.0.1,localhost,[::1]")
CSRF_TRUSTED_ORIGINS = _list("SILTLINE_TRUSTED_ORIGINS")
TRUSTED_PROXY = os.environ.get("SILTLINE_TRUSTED_PROXY", "")

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "csp",
    "django_htmx",
    "lucide",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
    "axes",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "core",
    "jobs",
    "maintenance",
    "api",
    "pages",
    "siltline",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "pages.feeds.plain.PlainFeeds",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_otp.middleware.OTPMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "pages.gate.PageGate",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "siltline.urls"
WSGI_APPLICATION = "siltline.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "pages.context.shell",
            ],
        },
    }
]

SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": "PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
}
if DATABASE_URL:
    DATABASES = {"default": dj_database_url.parse(DATABASE_URL, conn_max_age=60, conn_health_checks=True)}
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": str(VAR_DIR / "siltline.sqlite3"),
            "OPTIONS": SQLITE_OPTIONS,
            "CONN_MAX_AGE": 60,
        }
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "core.User"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
AXES_HANDLER = "axes.handlers.database.AxesDatabaseHandler"
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_VERBOSE = False
LOGIN_URL = "pages:sign_in"
LOGIN_REDIRECT_URL = "pages:home"
LOGOUT_REDIRECT_URL = "pages:sign_in"

LANGUAGE_CODE = "en-us"
LANGUAGES = [("en", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "locale"]
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = True

STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
MEDIA_ROOT = VAR_DIR / "media"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "siltline.static_storage.ModuleStorage"},
}
# Source maps are rarely asked for.
WHITENOISE_SKIP_COMPRESS_EXTENSIONS = (*Compressor.SKIP_COMPRESS_EXTENSIONS, "map")

EMAIL_BACKEND = os.environ.get(
    "SILTLINE_EMAIL_BACKEND",
    "django.core.mail.backends.smtp.EmailBackend" if os.environ.get("SILTLINE_SMTP_HOST") else "core.mailbox.Backend",
)
EMAIL_FILE_PATH = VAR_DIR / "mail"
EMAIL_HOST = os.environ.get("SILTLINE_SMTP_HOST", "localhost")
EMAIL_PORT = int(os.environ.get("SILTLINE_SMTP_PORT", "25"))
EMAIL_HOST_USER = os.environ.get("SILTLINE_SMTP_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("SILTLINE_SMTP_PASSWORD", "")
EMAIL_USE_TLS = _flag("SILTLINE_SMTP_TLS")
EMAIL_TIMEOUT = 15
DEFAULT_FROM_EMAIL = os.environ.get("SILTLINE_MAIL_FROM", "office@siltline.invalid")

# Session cookies are Lax so that a phone opened from a mail link keeps its session.
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "pages.errors.csrf_failure"
SECURE_COOKIES = PUBLIC_URL.startswith("https://")
SESSION_COOKIE_SECURE = SECURE_COOKIES
CSRF_COOKIE_SECURE = SECURE_COOKIES
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_HSTS_SECONDS = 31536000 if SECURE_COOKIES else 0
SECURE_SSL_REDIRECT = False  # TLS ends at the proxy
X_FRAME_OPTIONS = "DENY"
if TRUSTED_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "blob:", "data:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 20 * 1024 * 1024
MAX_BODY_BYTES = 20 * 1024 * 1024

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["api.auth.TokenAuthentication", "api.auth.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["api.auth.RoleAllows"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["api.parsers.Json"],
    "DEFAULT_PAGINATION_CLASS": "api.paging.CursorByKey",
    "DEFAULT_FILTER_BACKENDS": ["api.filters.StrictFilters"],
    "DEFAULT_METADATA_CLASS": None,
    "DEFAULT_SCHEMA_CLASS": "api.schema.NounSchema",
    "DEFAULT_THROTTLE_CLASSES": ["api.auth.PersonThrottle"],
    "DEFAULT_THROTTLE_RATES": {"person": os.environ.get("SILTLINE_API_RATE", "1200/min")},
    "EXCEPTION_HANDLER": "api.problems.handler",
    "UNAUTHENTICATED_USER": None,
    # The web server has taken the client's address from a trusted proxy already; headers say nothing here.
    "NUM_PROXIES": 0,
    "PAGE_SIZE": 50,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Siltline API",
    "DESCRIPTION": "Drainage systems in the ground, their due windows, visits and closeouts.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1/",
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": ["api.schema.finish"],
}

CACHES = (
    {"default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}}
    if REDIS_URL
    else {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
)

# Celery: on our own file queue in VAR_DIR/queue, or on Redis. What runs when: siltline/schedule.py.
QUEUES = ["pulse", "mail", "default", "planning"]
QUEUE_DIR = VAR_DIR / "queue"
# The refresh of the whole register: how many workers take pieces of it at a time, and how long one may hold a piece.
REFRESH_HANDS = int(os.environ.get("SILTLINE_REFRESH_HANDS", "4"))
REFRESH_LEASE_S = float(os.environ.get("SILTLINE_REFRESH_LEASE_S", "300"))
WEB_PROCESSES = int(os.environ.get("SILTLINE_WEB_PROCESSES", "1"))
CELERY_TIMEZONE = "UTC"
CELERY_TASK_DEFAULT_QUEUE = "default"
CELERY_TASK_QUEUES: dict[str, dict[str, str]] = {name: {} for name in QUEUES}
CELERY_TASK_CREATE_MISSING_QUEUES = False
CELERY_TASK_IGNORE_RESULT = True
CELERY_RESULT_BACKEND = None
# A bell that is lost is rung again by the next sweep; a task that runs twice would be worse.
CELERY_TASK_ACKS_LATE = False
CELERY_TASK_REJECT_ON_WORKER_LOST = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_WORKER_ENABLE_REMOTE_CONTROL = False
CELERY_WORKER_SEND_TASK_EVENTS = False
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BEAT_SCHEDULE_FILENAME = str(VAR_DIR / "beat-schedule")
if REDIS_URL:
    CELERY_BROKER_URL = REDIS_URL
    CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, object] = {
        "visibility_timeout": 3600,
        "unacked_restore_interval": 10,
        "unacked_restore_throttle": 1,
    }
    CELERY_VISIBILITY_TIMEOUT = 3600
    CELERY_WORKER_POOL = "prefork"
    CELERY_WORKER_PREFETCH_MULTIPLIER = 1
    CELERY_WORKER_MAX_TASKS_PER_CHILD = 500
    CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 30
    # The outbox lease (180 s) outlives the hard limit: a row is never claimed twice at a time.
    CELERY_TASK_SOFT_TIME_LIMIT = 90
    CELERY_TASK_TIME_LIMIT = 120
    CELERY_TASK_ANNOTATIONS = {"maintenance.tasks.refresh_step": {"soft_time_limit": 3300, "time_limit": 3500}}
else:
    CELERY_BROKER_URL = "filesystem://localhost"
    CELERY_BROKER_TRANSPORT_OPTIONS = {"folder": str(QUEUE_DIR), "polling_interval": 0.1}
    CELERY_WORKER_POOL = "threads"
    CELERY_WORKER_PREFETCH_MULTIPLIER = 8

LOG_LEVEL = os.environ.get("SILTLINE_LOG_LEVEL", "WARNING").upper()
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "filters": {"secrets": {"()": "core.log_secrets.HideSecrets"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["secrets"]}},
    "root": {"handlers": ["console"], "level": LOG_LEVEL},
}
SILENCED_SYSTEM_CHECKS: list[str] = []
SILTLINE_DEMO = _flag("SILTLINE_DEMO", default=True)
