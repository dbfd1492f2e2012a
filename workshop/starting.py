"""What keeps the settings from being read, in words: a folder that cannot be used, or a variable that is no use."""

from __future__ import annotations


def settings_problem() -> str:
    """Empty where the settings can be read."""
    from django.conf import settings

    try:
        settings.INSTALLED_APPS  # noqa: B018  the first question reads them
    except OSError as error:
        return f"The data folder cannot be used: {error.strerror} ({error.filename}). Look at DATA_DIR."
    except ValueError as error:
        return f"The settings cannot be read. {error}"
    return ""
