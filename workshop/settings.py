"""Settings, read from the environment. The defaults are those of a shop behind TLS; see README.md."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path
from typing import Any

import dj_database_url
import django_stubs_ext
from csp.constants import NONE, SELF
from django.urls import reverse_lazy

from workshop.bucket_address import read_bucket_address
from workshop.pseudo_names import PSEUDO_LANGUAGES
from workshop.secret import load_or_make_secret_key
from workshop.shop_network.served import served_by_now

# Lets `ModelForm[Shop]` and the like be written at run time as the type checker wants them.
django_stubs_ext.monkeypatch()

BASE_DIR = Path(__file__).resolve().parent.parent


def _flag(name: str, default: bool) -> bool:
    return os.environ.get(name, "1" if default else "0").lower() in {"1", "true", "yes", "on"}


def _number(name: str, default: int) -> int:
    try:
        return int(os.environ.get(name, default))
    except ValueError:
        raise ValueError(f"{name} is “{os.environ[name]}”: enter a whole number.") from None


def _database(address: str) -> dj_database_url.DBConfig:
    try:
        return dj_database_url.parse(address, conn_max_age=600, conn_health_checks=True)
    except ValueError:  # its words may hold the password
        raise ValueError("DATABASE_URL begins with postgres://, as in postgres://user@host:5432/shop.") from None


# Everything the shop must not lose lives under DATA_DIR: database, photos, documents, secret key.
DATA_DIR = Path(os.environ.get("DATA_DIR", BASE_DIR / ".data"))
# Better on another disk: a backup beside the shop is lost with it.
BACKUP_DIR = Path(os.environ.get("BACKUP_DIR", DATA_DIR / "backups"))
# A second place, where each backup is copied encrypted; the pass phrase is the first line of a file of mode 600.
BACKUP_COPY_DIR = os.environ.get("BACKUP_COPY_DIR", "")
BACKUP_PASSPHRASE_FILE = os.environ.get("BACKUP_PASSPHRASE_FILE", "")
# That folder is taken elsewhere by something else, so that it may lie on the shop's own disk.
BACKUP_COPY_IS_SYNCED = _flag("BACKUP_COPY_IS_SYNCED", False)
DEBUG = _flag("DEBUG", False)
SECRET_KEY = os.environ.get("SECRET_KEY") or load_or_make_secret_key(DATA_DIR / "secret_key")
ALLOWED_HOSTS = os.environ.get("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [origin for origin in os.environ.get("TRUSTED_ORIGINS", "").split(",") if origin]

# HTTPS=0 is for a shop on one machine, or the demo: browsers then keep cookies over plain HTTP.
HTTPS = _flag("HTTPS", True)
SECURE_SSL_REDIRECT = HTTPS
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
if HTTPS:  # see workshop/staff/cookie_names.py
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
SECURE_REDIRECT_EXEMPT = [
    r"^health$",
    r"^live$",
    r"^ready$",
]  # asked by the proxy itself, or by a watch on this machine
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
# Browsers' lists of such names are left within months, if at all: only whoever asks for it is offered to them.
SECURE_HSTS_PRELOAD = HTTPS and _flag("HSTS_PRELOAD", False)
SILENCED_SYSTEM_CHECKS = ["security.W021"]  # which asks for that list
# A proxy in front does TLS, says so in X-Forwarded-Proto, and writes the browser's address last in X-Forwarded-For.
BEHIND_PROXY = _flag("BEHIND_PROXY", False)
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
# In the shop's own network names and addresses come and go, and the page for a new tablet, plain HTTP under the same
# name, must stay within reach: no HSTS.
SHOP_NETWORK = served_by_now(DATA_DIR)
if SHOP_NETWORK:
    ALLOWED_HOSTS += [host for host in SHOP_NETWORK.hosts if host not in ALLOWED_HOSTS]
    CSRF_TRUSTED_ORIGINS += SHOP_NETWORK.origins
    SECURE_HSTS_SECONDS, SECURE_HSTS_INCLUDE_SUBDOMAINS, SECURE_HSTS_PRELOAD = 0, False, False
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_ENGINE = "workshop.staff.session_store"
SESSION_COOKIE_AGE = 14 * 24 * 3600  # the longest, whatever somebody does
# Who does nothing is signed out: soon on a shared device, where a short code is all it takes to go on.
IDLE_MINUTES = _number("IDLE_MINUTES", 8 * 60)
IDLE_MINUTES_SHARED = _number("IDLE_MINUTES_SHARED", 30)
if min(IDLE_MINUTES, IDLE_MINUTES_SHARED) < 1:
    raise ValueError("IDLE_MINUTES and IDLE_MINUTES_SHARED are whole minutes, 1 at least.")
CONFIRMED_FOR_MINUTES = 5  # how long a password that was given lets do what asks for it anew
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"  # in a cookie it outlives the sign-out
CSRF_FAILURE_VIEW = "workshop.web.errors.csrf_failure"
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

INSTALLED_APPS = [
    "workshop.apps.WorkshopConfig",
    "diagnosis.apps.DiagnosisConfig",
    "specs.apps.SpecsConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_htmx",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "workshop.web.request_id.RequestIdMiddleware",
    "workshop.web.unknown_names.scheme_middleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "workshop.running.database_there.DatabaseThereMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "workshop.web.middleware.PersonMiddleware",
    "workshop.web.uploads.RefuseHugeMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "workshop.web.middleware.NothingIsKeptMiddleware",
    "workshop.web.middleware.LoginRequiredMiddleware",
    "workshop.web.text.RefuseNulMiddleware",
    "workshop.web.middleware.ShopTimezoneMiddleware",
    "axes.middleware.AxesMiddleware",
]

# Counts of requests at /metrics, for who sends this token; see workshop/running/metrics.py.
METRICS_TOKEN = os.environ.get("METRICS_TOKEN", "").strip()
if METRICS_TOKEN:
    if len(METRICS_TOKEN) < 20:
        raise ValueError("METRICS_TOKEN is a secret of 20 letters at least: whoever has it reads the counts.")
    if importlib.util.find_spec("django_prometheus") is None:
        raise ValueError(
            "METRICS_TOKEN needs packages that are not installed: .venv/bin/python -m pip install --require-hashes "
            "-r .requirements/metrics.lock"
        )
    INSTALLED_APPS.append("django_prometheus")
    MIDDLEWARE.insert(0, "django_prometheus.middleware.PrometheusBeforeMiddleware")
    MIDDLEWARE.append("workshop.running.counted_requests.CountedRequestsMiddleware")
    SECURE_REDIRECT_EXEMPT.append(r"^metrics$")

ROOT_URLCONF = "workshop.urls"
WSGI_APPLICATION = "workshop.wsgi.application"
FORM_RENDERER = "workshop.web.form_renderer.DirectRenderer"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "workshop.web.context.frame",
                "workshop.bench.ringing.my_timers",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "workshop.web.templatetags.shop",
                "workshop.web.templatetags.components",
            ],
            "libraries": {
                "hits": "workshop.counter.templatetags.hits",
                "pictures": "workshop.web.templatetags.pictures",
            },
        },
    }
]

DATABASES = {
    "default": _database(os.environ.get("DATABASE_URL", f"sqlite:///{DATA_DIR / 'shop.sqlite3'}")),
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A tick that was acknowledged is on the disk: WAL with synchronous FULL, and writers queue from the start.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
            "PRAGMA cache_size=-32000; PRAGMA mmap_size=134217728;"
        ),
    }
else:
    # A shop's database is in memory or on a disk without a head: by an index, not by reading whole tables.
    # Where the network between both is lost, neither waits for the other for hours: this side gives up within half a
    # minute, and PostgreSQL lets go of what somebody had locked who is there no more.
    # Who waits for a row longer than that is told so in words, as on SQLite.
    _OF_POSTGRESQL: dict[str, Any] = {
        "connect_timeout": 10,
        "keepalives_idle": 20,
        "keepalives_interval": 5,
        "keepalives_count": 3,
        "tcp_user_timeout": 30_000,
    }
    if _flag("DATABASE_POOLED", False):
        # Statements of one person go over whichever connection is free: none may stay set, or open, between two.
        DATABASES["default"]["DISABLE_SERVER_SIDE_CURSORS"] = True
    else:
        _OF_POSTGRESQL["options"] = (
            "-c random_page_cost=1.1 -c lock_timeout=20000 -c idle_in_transaction_session_timeout=600000 "
            "-c tcp_keepalives_idle=20 -c tcp_keepalives_interval=5 -c tcp_keepalives_count=3 "
            "-c client_connection_check_interval=10000"  # a statement that nobody waits for any more ends
        )
    DATABASES["default"]["OPTIONS"] = _OF_POSTGRESQL | DATABASES["default"].get("OPTIONS", {})

AUTH_USER_MODEL = "workshop.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "workshop.staff.backend.StaffBackend",
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "workshop.staff.passwords.UnlikeTheName"},
    {"NAME": "workshop.staff.passwords.UnlikeTheShop"},
    {"NAME": "workshop.staff.passwords.LongEnough", "OPTIONS": {"min_length": 10}},
    {"NAME": "workshop.staff.passwords.NotAmongTheFirstGuessed"},
    {"NAME": "workshop.staff.passwords.MoreThanBlanks"},
]
LOGIN_URL = reverse_lazy("sign_in")
LOGIN_REDIRECT_URL = reverse_lazy("home")
LOGOUT_REDIRECT_URL = reverse_lazy("sign_in")
# Failed sign-ins within the time to wait: of a name at an address, of an address, of a name; see staff/throttle.py.
AXES_FAILURE_LIMIT = 6
SIGN_IN_FAILURES_OF_ADDRESS = 30
SIGN_IN_FAILURES_OF_NAME = 60
AXES_COOLOFF_TIME = 0.25  # hours
AXES_HANDLER = "workshop.staff.throttle.SignInHandler"
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_CLIENT_IP_CALLABLE = "workshop.staff.address.throttled_address"
AXES_LOCKOUT_CALLABLE = "workshop.staff.throttle.locked_out"
# A try while waiting does not count: one name's tries cannot use up what the whole address has.
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_RESET_ON_SUCCESS = True
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False

# What could take too much is done by processes of its own, with limits: on under `serve`, else in the process itself.
WORK_IN_PROCESSES = _flag("WORK_IN_PROCESSES", False)

CACHES = {
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"},
    # Of its own, so that many senders push nothing else out; see workshop/web/refused_uploads.py.
    "refused": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "refused uploads",
        "OPTIONS": {"MAX_ENTRIES": 20_000},
    },
}

# Reminders leave by this mail server. Without one the shop prints letters; the demo writes its emails to DATA_DIR/mail.
EMAIL_HOST = os.environ.get("EMAIL_HOST", "")
EMAIL_BACKEND = (
    "workshop.reminders.punctual_mail.PunctualBackend" if EMAIL_HOST else "django.core.mail.backends.dummy.EmailBackend"
)
EMAIL_PORT = _number("EMAIL_PORT", 587)
EMAIL_HOST_USER = os.environ.get("EMAIL_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("EMAIL_PASSWORD", "")
EMAIL_USE_SSL = _flag("EMAIL_SSL", EMAIL_PORT == 465)
EMAIL_USE_TLS = _flag("EMAIL_STARTTLS", not EMAIL_USE_SSL)
EMAIL_TIMEOUT = 30
DEFAULT_FROM_EMAIL = os.environ.get("EMAIL_FROM", "")  # empty: the shop's own address
# Set it only where the mail provider promises to take a Message-ID once: a message that was cut off is then sent again.
EMAIL_REPEAT_IS_HARMLESS = _flag("EMAIL_REPEAT_IS_HARMLESS", False)

# Where customers reach the shop, for every shop of the database; empty: what the owner enters in Office, Shop.
PUBLIC_ADDRESS = os.environ.get("PUBLIC_ADDRESS", "").strip().rstrip("/")

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_I18N = True
# Languages that customers can be written to in; a catalogue of each but the first lies in locale/.
LANGUAGES = [(LANGUAGE_CODE, "English")]
LOCALE_PATHS = [BASE_DIR / "locale"]
# What `make_pseudo` made, to look at what is not marked or does not fit; never in a shop.
_PSEUDO_DIR = DATA_DIR / "pseudo-language"
if DEBUG and _PSEUDO_DIR.is_dir():
    LANGUAGES += PSEUDO_LANGUAGES
    LOCALE_PATHS.append(_PSEUDO_DIR)
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
MEDIA_ROOT = DATA_DIR / "files"
# Several machines keep photos, documents and other files in one bucket; without it they lie in MEDIA_ROOT.
FILES_BUCKET = read_bucket_address(os.environ["FILES_URL"]) if os.environ.get("FILES_URL") else None
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "workshop.web.bucket_storage.BucketStorage", "OPTIONS": {"address": FILES_BUCKET}}
    if FILES_BUCKET
    else {"BACKEND": "workshop.web.storage.DurableStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "workshop.web.storage.RememberedStaticFilesStorage"
    },
}
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
DATA_UPLOAD_MAX_MEMORY_SIZE = 20 * 1024 * 1024
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Lines for a person, or LOG_FORMAT=json for a machine; both without people's data, see workshop/running/logs.py.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "plain": {"()": "workshop.running.logs.PlainLines"},
        "json": {"()": "workshop.running.logs.JsonLines"},
    },
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": "json" if os.environ.get("LOG_FORMAT") == "json" else "plain",
        },
        "nowhere": {"class": "logging.NullHandler"},
        "errors": {"class": "workshop.running.logs.ErrorLog", "path": str(DATA_DIR / "errors.jsonl")},
    },
    "root": {"handlers": ["console", "errors"], "level": os.environ.get("LOG_LEVEL", "WARNING")},
    # Django sets up handlers of its own for these, which would say everything twice, and with addresses.
    # A wrong host is told by workshop/web/unknown_names.py, a few times; whoever goes on making them up fills no log.
    "loggers": {
        "django": {"handlers": [], "propagate": True},
        "django.server": {"handlers": [], "propagate": True},
        "django.security.DisallowedHost": {"handlers": ["nowhere"], "propagate": False},
    },
}
