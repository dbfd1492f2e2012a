"""Whether a typed password is right, asked in one place, so that wrong ones count together."""

from __future__ import annotations

from axes.models import AccessAttempt
from django.contrib.auth import authenticate
from django.http import HttpRequest

from workshop.staff.models import User
from workshop.staff.throttle import Wait, wait_of


def why_not_password(request: HttpRequest, user: User, typed: str) -> str:
    """Empty where it is the password of who is signed in; else why not, in words.

    Wrong ones count with those of the sign-in: too many, and this name waits here, whatever is typed.
    """
    found = authenticate(request, username=user.username, password=typed)
    if isinstance(found, User) and found.pk == user.pk:
        address = request.axes_ip_address  # type: ignore[attr-defined]
        AccessAttempt.objects.filter(username=user.username, ip_address=address).delete()
        return ""
    request.axes_locked_out = False  # type: ignore[attr-defined]  # this page says so itself, and keeps what was typed
    wait = wait_of(request, {"username": user.username})
    return wait_words(wait) if wait is not None else "That is not your password."


def wait_words(wait: Wait) -> str:
    minutes = wait.minutes
    return f"Too many wrong passwords. Try again in {minutes} minute{'' if minutes == 1 else 's'}."
