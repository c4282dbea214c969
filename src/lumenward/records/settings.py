"""Django's settings: safe by default, everything that differs between houses comes from `environment`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from lumenward.records import environment

SCREENS = Path(__file__).parent.parent / "screens"
LUMENWARD_HOME = environment.home()
LUMENWARD_DEMO = environment.switch("LUMENWARD_DEMO", False)
LUMENWARD_HTTPS = environment.switch("LUMENWARD_HTTPS", False)
LUMENWARD_BODY_LIMIT = 2_000_000  # bytes of one request; a day of offline acts is below 1 MB

SECRET_KEY = environment.secret_key(LUMENWARD_HOME)
DEBUG = False
ALLOWED_HOSTS = environment.hosts("LUMENWARD_HOSTS")
DATABASES: dict[str, dict[str, Any]] = {"default": environment.database("LUMENWARD_DATABASE", LUMENWARD_HOME)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "axes",
    "lumenward.records",
]

MIDDLEWARE = [
    "lumenward.records.middleware.guard",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "lumenward.records.middleware.people",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "lumenward.records.urls"
WSGI_APPLICATION = "lumenward.records.wsgi.application"

_SLICES = sorted(path for path in SCREENS.iterdir() if path.is_dir())
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [path / "templates" for path in _SLICES if (path / "templates").is_dir()],
        "APP_DIRS": False,
        "OPTIONS": {
            "libraries": {
                tags.stem: f"lumenward.screens.{tags.parent.parent.name}.templatetags.{tags.stem}"
                for tags in sorted(SCREENS.glob("*/templatetags/[a-z]*.py"))
            },
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "lumenward.records.context.house",
            ],
        },
    }
]
STATIC_URL = "static/"
STATICFILES_DIRS = [path / "static" for path in _SLICES if (path / "static").is_dir()]
STATICFILES_FINDERS = ["django.contrib.staticfiles.finders.FileSystemFinder"]
WHITENOISE_USE_FINDERS = True
WHITENOISE_MAX_AGE = 0

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_HTTP_RESPONSE_CODE = 429
AXES_LOCKOUT_CALLABLE = "lumenward.records.errors.locked_out"
AXES_VERBOSE = False
AXES_ENABLE_ADMIN = False
AXES_IPWARE_PROXY_COUNT = 0

SESSION_COOKIE_NAME = "lumenward"
SESSION_COOKIE_AGE = 12 * 3600  # one shift
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Strict"
SESSION_COOKIE_SECURE = LUMENWARD_HTTPS
CSRF_COOKIE_NAME = "lumenward-csrf"
CSRF_COOKIE_SAMESITE = "Strict"
CSRF_COOKIE_SECURE = LUMENWARD_HTTPS
CSRF_FAILURE_VIEW = "lumenward.records.errors.no_csrf"
SECURE_SSL_REDIRECT = LUMENWARD_HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if LUMENWARD_HTTPS else None
SECURE_HSTS_SECONDS = 31_536_000 if LUMENWARD_HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = LUMENWARD_HTTPS
SECURE_HSTS_PRELOAD = LUMENWARD_HTTPS
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = LUMENWARD_BODY_LIMIT
DATA_UPLOAD_MAX_NUMBER_FIELDS = 500
CSRF_TRUSTED_ORIGINS = [f"https://{host.lstrip('.')}" for host in ALLOWED_HOSTS] if LUMENWARD_HTTPS else []

USE_TZ = True
TIME_ZONE = environment.zone("LUMENWARD_ZONE", "UTC")
LANGUAGE_CODE = "en-gb"
USE_I18N = False

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
}
