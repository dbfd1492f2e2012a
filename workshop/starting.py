"""What keeps the settings from being read, in words: a folder that cannot be used, or a variable that is no use."""

from __future__ import annotations

EMPTY_KEY = (
    "The secret key is empty: {0}/secret_key. Put the old one back: it is “secret_key” in each backup, a zip. Where "
    "there is none, or before a restore, which brings it along, remove that file: a new one is made."
)


def settings_problem() -> str:
    """Empty where the settings can be read."""
    from django.conf import settings
    from django.core.exceptions import ImproperlyConfigured

    try:
        settings.INSTALLED_APPS  # noqa: B018  the first question reads them
    except OSError as error:
        return f"The data folder cannot be used: {error.strerror} ({error.filename}). Look at DATA_DIR."
    except ValueError as error:
        return f"The settings cannot be read. {error}"
    try:
        settings.SECRET_KEY  # noqa: B018  Django refuses an empty one as soon as it is asked for
    except ImproperlyConfigured:
        return EMPTY_KEY.format(settings.DATA_DIR)
    return ""
