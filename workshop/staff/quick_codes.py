"""Short codes: setting one's own, and changing person by it on a device that was let in.

Three counts bound the guessing, each of wrong tries that no right one followed: of a person on a device, of all people
on a device, and of a person anywhere, after which the code is off. A code has four digits at least, so that whoever
guesses one has tried 15 of 10,000 before that.
"""

from __future__ import annotations

import datetime as dt
import re
from itertools import pairwise

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.utils import timezone

from workshop.staff.device_models import Device, QuickCode, WrongCode
from workshop.staff.models import Shop, User

SHORTEST, LONGEST = 4, 8
MOST_WRONG = 5
MOST_WRONG_ON_DEVICE = 15
MOST_WRONG_ANYWHERE = 15
WAIT = dt.timedelta(minutes=15)


class QuickCodeRefused(ValueError):
    """That a short code does not count, and why."""


def why_too_simple(code: str) -> str:
    """Why these digits will not do as a short code; empty where they will."""
    if not re.fullmatch(rf"[0-9]{{{SHORTEST},{LONGEST}}}", code):
        return f"Enter {SHORTEST} to {LONGEST} digits, and nothing else."
    steps = {int(after) - int(before) for before, after in pairwise(code)}
    if steps in ({0}, {1}, {-1}):
        return "That is the first anybody tries. Take digits that are neither all the same nor in a row."
    return ""


@transaction.atomic
def set_code(*, user: User, code: str) -> QuickCode:
    """Keep somebody's own code, hashed; earlier wrong tries are forgotten.

    Raises:
        CodeRefused: no digits, too few or too many, or too simple.
    """
    if why := why_too_simple(code):
        raise QuickCodeRefused(why)
    WrongCode.objects.filter(user=user).delete()
    kept, _ = QuickCode.objects.update_or_create(
        user=user, defaults={"hashed": make_password(code), "set_at": timezone.now()}
    )
    return kept


def forget_code(*, user: User) -> bool:
    """Take somebody's code away. Returns whether there was one."""
    return bool(QuickCode.objects.filter(user=user).delete()[0])


def has_code(user: User) -> bool:
    return QuickCode.objects.filter(user=user).exists()


def people_with_codes(shop: Shop) -> list[User]:
    """Who can change by a code in this shop, by name; one query."""
    people = User.objects.filter(shop=shop, is_active=True, quick_code__isnull=False)
    return list(people.order_by("first_name", "last_name", "username"))


def person_by_code(*, device: Device, user_pk: int, typed: str) -> User:
    """Who this code makes of the device's user.

    Raises:
        CodeRefused: wrong, none set, too many tries, who left, or the device was ended meanwhile. The words say which.
    """
    user = User.objects.select_related("shop").filter(pk=user_pk, shop=device.shop_id).first()
    if user is None:
        raise QuickCodeRefused("Choose who you are.")
    code = QuickCode.objects.filter(user=user).first()
    # Hashing takes its time and is done before anything is locked; whether it counts is decided under the lock.
    is_right = code is not None and check_password(typed, code.hashed)
    if refusal := _judge(device, user, code, is_right=is_right):
        raise QuickCodeRefused(refusal)
    return user


@transaction.atomic
def _judge(device: Device, user: User, code: QuickCode | None, *, is_right: bool) -> str:
    """Why the code is refused; empty when it counted. It returns, so that the count of wrong tries is kept."""
    held = Device.objects.select_for_update().filter(pk=device.pk, ended_at__isnull=True).first()
    if held is None:
        return "This device was ended meanwhile. Sign in with the password."
    if not User.objects.filter(pk=user.pk, is_active=True).exists():
        return f"{user} does not sign in here any more."
    now = timezone.now()
    standing = None if code is None else QuickCode.objects.select_for_update().filter(pk=code.pk).first()
    if code is None or standing is None or standing.hashed != code.hashed:
        return f"{user} has no short code now. Sign in with the password, and set one."
    if wait := _wait(held, user, now):
        return wait
    if is_right:
        WrongCode.objects.filter(user=user).delete()
        held.last_used_at = now
        held.save(update_fields=["last_used_at"])
        return ""
    WrongCode.objects.create(device=held, user=user, at=now)
    if WrongCode.objects.filter(user=user).count() >= MOST_WRONG_ANYWHERE:
        standing.delete()
        return f"Too many wrong codes: the code of {user} is off. Sign in with the password, and set a new one."
    return _wait(held, user, now) or f"That is not the code of {user}. Try again."


def _wait(device: Device, user: User, now: dt.datetime) -> str:
    """Why nobody may try this now; empty where they may."""
    recent = WrongCode.objects.filter(device=device, at__gt=now - WAIT)
    for tries, most, whose in (
        (recent.filter(user=user), MOST_WRONG, f" for {user}"),
        (recent, MOST_WRONG_ON_DEVICE, ""),
    ):
        newest = list(tries.order_by("-at").values_list("at", flat=True)[:most])
        if len(newest) == most:
            minutes = max(1, -int((now - newest[-1] - WAIT).total_seconds() // 60))
            plural = "" if minutes == 1 else "s"
            again = f"Try again in {minutes} minute{plural}, or sign in with the password."
            return f"Too many wrong codes{whose} on this device. {again}"
    return ""
