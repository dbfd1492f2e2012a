"""Who a session belongs to, how it began, and on which device: what every request is asked first."""

from __future__ import annotations

from django.contrib.auth import get_user, login
from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest
from django.utils import timezone

from workshop.staff.backend import StaffBackend
from workshop.staff.confirming import confirm
from workshop.staff.device_models import Device
from workshop.staff.devices import device_of
from workshop.staff.known_browsers import meet
from workshop.staff.models import User
from workshop.staff.open_sessions import sweep
from workshop.staff.security_log import WhereFrom
from workshop.staff.session_store import BY_CODE, DEVICE, FROM, begins_now
from workshop.staff.stopped_shops import refuse_stopped

BACKEND = f"{StaffBackend.__module__}.{StaffBackend.__qualname__}"


def person_of(request: HttpRequest) -> AbstractBaseUser | AnonymousUser:
    """Who is signed in, and whether by a short code alone; nobody, on a device that was ended.

    Only a session on a device that was let in asks for it, in one query more.
    """
    user = get_user(request)
    if not isinstance(user, User):
        return user
    device = request.session.get(DEVICE)
    if device is not None and not Device.objects.filter(pk=device, ended_at__isnull=True).exists():
        return AnonymousUser()
    user.by_code = bool(request.session.get(BY_CODE))
    return user


def enter(request: HttpRequest, user: User) -> bool:
    """Sign somebody in whose password, and second factor where there is one, was right.

    Returns whether the browser is one in which they never gave it, though they did in another. Raises ShopStopped.
    """
    refuse_stopped(user.shop)
    sweep()
    login(request, user, backend=BACKEND)
    for key in (BY_CODE, DEVICE):
        request.session.pop(key, None)
    user.by_code = False
    _note_place(request)
    confirm(request)
    is_new = meet(request, user)
    device = device_of(request)
    if device is not None and device.shop_id == user.shop_id:
        note_device(request, device)
    return is_new


def enter_by_code(request: HttpRequest, user: User, device: Device) -> None:
    """Sign somebody in whose short code was right: without the office, until the password is given.

    Raises ShopStopped.
    """
    refuse_stopped(user.shop)
    request.by_code = True  # type: ignore[attr-defined]  # no password was given, so its wrong tries still count
    login(request, user, backend=BACKEND)
    request.session[BY_CODE] = True
    user.by_code = True
    _note_place(request)
    note_device(request, device)


def _note_place(request: HttpRequest) -> None:
    place = WhereFrom.of(request)
    begins_now(request.session)
    began = {"at": timezone.now().timestamp(), "address": place.address, "browser": place.browser}
    request.session[FROM] = began


def note_device(request: HttpRequest, device: Device) -> None:
    """From now on this session ends with the device."""
    request.session[DEVICE] = device.pk


def is_on_device(request: HttpRequest) -> bool:
    """Whether this session is on a device that was let in. No query: it would not be there on one that was ended."""
    return DEVICE in getattr(request, "session", ())  # what is refused unread has none yet
