"""Who a session belongs to, how it began, and on which device: what every request is asked first."""

from __future__ import annotations

from django.contrib.auth import get_user, login
from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest

from workshop.staff.backend import StaffBackend
from workshop.staff.device_models import Device
from workshop.staff.devices import device_of
from workshop.staff.models import User

BACKEND = f"{StaffBackend.__module__}.{StaffBackend.__qualname__}"
_BY_CODE = "by_code"
_DEVICE = "device"


def person_of(request: HttpRequest) -> AbstractBaseUser | AnonymousUser:
    """Who is signed in, and whether by a short code alone; nobody, on a device that was ended.

    Only a session on a device that was let in asks for it, in one query more.
    """
    user = get_user(request)
    if not isinstance(user, User):
        return user
    device = request.session.get(_DEVICE)
    if device is not None and not Device.objects.filter(pk=device, ended_at__isnull=True).exists():
        return AnonymousUser()
    user.by_code = bool(request.session.get(_BY_CODE))
    return user


def enter(request: HttpRequest, user: User) -> None:
    """Sign somebody in whose password, and second factor where there is one, was right."""
    login(request, user, backend=BACKEND)
    for key in (_BY_CODE, _DEVICE):
        request.session.pop(key, None)
    user.by_code = False
    device = device_of(request)
    if device is not None and device.shop_id == user.shop_id:
        note_device(request, device)


def enter_by_code(request: HttpRequest, user: User, device: Device) -> None:
    """Sign somebody in whose short code was right: without the office, until the password is given."""
    request.by_code = True  # type: ignore[attr-defined]  # no password was given, so its wrong tries still count
    login(request, user, backend=BACKEND)
    request.session[_BY_CODE] = True
    user.by_code = True
    note_device(request, device)


def note_device(request: HttpRequest, device: Device) -> None:
    """From now on this session ends with the device."""
    request.session[_DEVICE] = device.pk


def is_on_device(request: HttpRequest) -> bool:
    """Whether this session is on a device that was let in. No query: it would not be there on one that was ended."""
    return _DEVICE in getattr(request, "session", ())  # what is refused unread has none yet
