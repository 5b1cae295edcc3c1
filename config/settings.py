"""All settings. What an installation may choose comes from the environment (see `config.environment`)."""

from __future__ import annotations

import secrets
from datetime import timedelta

from csp.constants import NONE, SELF

from config import environment
from config.secret import kept_key

ENVIRONMENT = environment.read()
BASE_DIR = environment.BASE_DIR
DATA = ENVIRONMENT.data
DEBUG = ENVIRONMENT.debug
IS_DEMO = ENVIRONMENT.is_demo
PUBLIC_URL = ENVIRONMENT.public_url.url

# Until the first start has kept a key, commands that sign nothing run with a passing one.
SECRET_KEY = ENVIRONMENT.secret_key or kept_key(DATA) or secrets.token_urlsafe(64)
SECRET_KEY_IS_KEPT = bool(ENVIRONMENT.secret_key or kept_key(DATA))

INSTALLED_APPS = [
    "config",
    "amendments",
    "soiltests",
    "plots",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "template_partials",
    "simple_history",
    "axes",
    "csp",
    "django_tasks",
    "django_tasks_db",
]
MIDDLEWARE = [
    "config.middleware.Health",
    "django.middleware.security.SecurityMiddleware",
    "config.middleware.BrowserRights",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "config.middleware.HtmxAnswers",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["plots.templatetags.trade"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "plots.context.nav",
                "config.context.installation",
            ],
        },
    }
]
FORM_RENDERER = "config.forms.ProjectRenderer"

DATABASES = {"default": ENVIRONMENT.database}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}}

# People and signing in

AUTH_USER_MODEL = "plots.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.ScryptPasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign_in"
PASSWORD_RESET_TIMEOUT = 3 * 24 * 3600
# By name and address together: neither a stranger nor a shared proxy address can lock a manager out.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_LOCKOUT_CALLABLE = "config.views.signing.locked_out"
AXES_CLIENT_IP_CALLABLE = "config.addresses.client_address"
AXES_ENABLE_ADMIN = False
AXES_DISABLE_ACCESS_LOG = True
AXES_ENABLE_ACCESS_FAILURE_LOG = False
AXES_VERBOSE = False

# The wire

ALLOWED_HOSTS = ENVIRONMENT.public_url.hosts
CSRF_TRUSTED_ORIGINS = ENVIRONMENT.public_url.trusted_origins
CSRF_FAILURE_VIEW = "config.views.errors.csrf_failure"
_HTTPS = ENVIRONMENT.public_url.is_https
TRUST_PROXY = ENVIRONMENT.trust_proxy
SECURE_SSL_REDIRECT = _HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if TRUST_PROXY else None
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if _HTTPS else 0
# Neighbouring host names belong to somebody else: what they serve is not this program's to decide.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _HTTPS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 28 * 24 * 3600
X_FRAME_OPTIONS = "DENY"

TILE_URL = ENVIRONMENT.tile_url
TILE_ATTRIBUTION = ENVIRONMENT.tile_attribution
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, *([environment.tile_host(TILE_URL)] if TILE_URL else [])],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}

# Files

STATIC_URL = "static/"
STATIC_ROOT = DATA / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
MEDIA_ROOT = DATA / "uploads"  # has no address: a view hands a file out after asking who wants it
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
DATA_UPLOAD_MAX_NUMBER_FIELDS = 12_000  # a property of 5,000 plots ticked on one form
_PLAIN_STATIC = "django.contrib.staticfiles.storage.StaticFilesStorage"
_HASHED_STATIC = "whitenoise.storage.CompressedManifestStaticFilesStorage"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    # The manifest exists only where the files have been collected, which development does without.
    "staticfiles": {"BACKEND": _PLAIN_STATIC if DEBUG else _HASHED_STATIC},
}
WHITENOISE_AUTOREFRESH = False
WHITENOISE_USE_FINDERS = DEBUG

# Time and words

LANGUAGE_CODE = "en-us"
USE_I18N = False
USE_TZ = True
TIME_ZONE = ENVIRONMENT.time_zone

for _name, _value in ENVIRONMENT.mail.items():
    globals()[_name] = _value
DEFAULT_FROM_EMAIL = SERVER_EMAIL = ENVIRONMENT.mail_from

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": ENVIRONMENT.log_level},
    "loggers": {
        "django": {"handlers": ["stderr"], "level": ENVIRONMENT.log_level, "propagate": False},
        "django.server": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        "axes": {"level": "ERROR"},  # its warnings name whoever mistyped a password
        "django_tasks_db": {"level": "ERROR"},
        "apscheduler": {"level": "WARNING"},
    },
}
