"""All settings, read from environment variables; the defaults are the safe ones."""

import os
import secrets
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent.parent


def env_text(name: str, default: str | None = None) -> str:
    """The variable `name`; refused by name when it is missing and has no default."""
    value = os.environ.get(name, default)
    if value is None or value == "":
        if default == "":
            return ""
        raise ImproperlyConfigured(f"Set the environment variable {name}; see .env.example.")
    return value


def env_choice(name: str, choices: set[str], default: str) -> str:
    """The variable `name`, which must be one of `choices`."""
    value = env_text(name, default)
    if value not in choices:
        raise ImproperlyConfigured(f"{name} is {value!r}; it must be one of {sorted(choices)}.")
    return value


def env_number(name: str, default: int) -> int:
    """The variable `name` as a whole number."""
    value = env_text(name, str(default))
    if not value.isdecimal():
        raise ImproperlyConfigured(f"{name} is {value!r}; it must be a whole number.")
    return int(value)


MODE = env_choice("HEARTHLEDGER_MODE", {"production", "demo", "test"}, "production")
PRODUCTION = MODE == "production"
DEBUG = False

DATA_DIR = Path(env_text("DATA_DIR", str(BASE_DIR / ".data")))
DATA_DIR.mkdir(parents=True, exist_ok=True)

# A random key is enough where nobody stays signed in over a restart.
SECRET_KEY = env_text("DJANGO_SECRET_KEY", None if PRODUCTION else secrets.token_urlsafe(50))
ALLOWED_HOSTS = env_text("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [
    origin for origin in env_text("CSRF_TRUSTED_ORIGINS", "").split(",") if origin
]

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "axes",
    "csp",
    "django_htmx",
    "drf_spectacular",
    "knox",
    "rest_framework",
    "simple_history",
    "agency.accounts",
    "agency.wording",
    "agency.outbox",
    "agency.rulebook",
    "agency.programs",
    "agency.people",
    "agency.houses",
    "agency.instruments",
    "agency.jobs",
    "agency.intake",
    "agency.diagnostics",
    "agency.estimates",
    "agency.certificates",
    "agency.reports",
    "agency.retention",
    "agency.letters",
    "agency.demo",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "agency.config.middleware.keep_out_of_caches",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "agency.config.urls"
WSGI_APPLICATION = "agency.config.wsgi.application"
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
            ],
        },
    }
]

DATABASES = {
    "default": dj_database_url.parse(
        env_text("DATABASE_URL", f"sqlite:///{DATA_DIR / 'hearthledger.sqlite3'}"),
        conn_max_age=60,
        conn_health_checks=True,
    )
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # One writer at a time that waits its turn, readers undisturbed.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 15},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "office:sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "office:sign_in"
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = ["username"]
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False
AXES_LOCKOUT_TEMPLATE = "office/locked_out.html"
# A whole office shares one address: locking it out would punish everyone for one guesser.
SILENCED_SYSTEM_CHECKS = ["axes.W006"]

SESSION_COOKIE_AGE = 12 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = PRODUCTION
SESSION_COOKIE_NAME = "__Host-sessionid" if PRODUCTION else "sessionid"
CSRF_COOKIE_NAME = "__Host-csrftoken" if PRODUCTION else "csrftoken"
SECURE_SSL_REDIRECT = PRODUCTION
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if PRODUCTION else None
SECURE_HSTS_SECONDS = 31_536_000 if PRODUCTION else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = PRODUCTION
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "connect-src": ["'self'"],
        "manifest-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000

LANGUAGE_CODE = "en-us"
TIME_ZONE = env_text("AGENCY_TIME_ZONE", "America/Chicago")
USE_TZ = True
# On what papers are printed, and where anyone can check one.
PAPER_SIZE = env_choice("PAPER_SIZE", {"letter", "a4"}, "letter")
PUBLIC_ADDRESS = env_text("PUBLIC_ADDRESS", "") or (
    f"{'https' if PRODUCTION else 'http'}://{ALLOWED_HOSTS[0].lstrip('.')}"
)
STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
STATICFILES_DIRS = [BASE_DIR / "static"]
MEDIA_ROOT = DATA_DIR / "media"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "agency.config.static_files.HashedModules"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = not PRODUCTION

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "agency.api.authentication.DeviceAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["agency.api.parsing.StrictJSONParser"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.LimitOffsetPagination",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "agency.api.errors.answer",
    "PAGE_SIZE": 50,
}
KNOX_TOKEN_MODEL = "knox.AuthToken"
REST_KNOX = {"TOKEN_TTL": timedelta(days=90), "AUTO_REFRESH": True}
SPECTACULAR_SETTINGS = {
    "TITLE": "Hearthledger field API",
    "DESCRIPTION": "Jobs out, test runs in, results and reports out.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SCHEMA_PATH_PREFIX": r"/api/v[0-9]+",
}

QUEUE_DIR = DATA_DIR / "queue"
CELERY_BROKER_URL = env_text("BROKER_URL", "filesystem://")
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_TIME_LIMIT = 60
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE = {
    "sweep the outbox": {"task": "agency.outbox.tasks.sweep_outbox", "schedule": 15.0},
    "note changes in locked quarters": {
        "task": "agency.reports.tasks.note_changes_in_locked_quarters",
        "schedule": 3600.0,
    },
    "throw old files away": {
        "task": "agency.reports.tasks.throw_old_files_away",
        "schedule": 3600.0,
    },
}
if urlsplit(CELERY_BROKER_URL).scheme == "filesystem":
    for folder in ("messages", "control"):
        (QUEUE_DIR / folder).mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(QUEUE_DIR / "messages"),
        "data_folder_out": str(QUEUE_DIR / "messages"),
        "control_folder": str(QUEUE_DIR / "control"),
        "polling_interval": 0.05,
    }
else:
    # Longer than three of the longest tasks, or a slow task would be started twice.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 3 * CELERY_TASK_TIME_LIMIT + 60,
        "unacked_restore_interval": 2,
        "unacked_restore_throttle": 1,
        "socket_timeout": 5,
        "socket_connect_timeout": 5,
        "max_retries": 1,
    }

WORKERS = env_number("WORKERS", 1)
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env_text("LOG_LEVEL", "WARNING")},
}
