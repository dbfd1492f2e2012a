"""Setting up a second factor, checking its codes, and taking it off."""

from __future__ import annotations

import datetime as dt
import hashlib

from django.core.exceptions import ObjectDoesNotExist
from django.db import transaction
from django.utils import timezone

from workshop.staff.models import User
from workshop.staff.one_time_codes import matching_step
from workshop.staff.random_words import make_password
from workshop.staff.second_factor_models import RecoveryCode, SecondFactor

RECOVERY_CODES = 10
MOST_WRONG = 6
WAIT_MINUTES = 15


class CodeRefused(ValueError):
    """That a code does not count, and why."""


def second_factor_of(user: User) -> SecondFactor | None:
    try:
        return user.second_factor
    except ObjectDoesNotExist:
        return None


def must_set_up(user: User) -> bool:
    """Whether the shop asks its owners for a second factor and this owner has none yet."""
    asked = user.is_owner and user.shop is not None and user.shop.owners_need_second_factor
    return asked and second_factor_of(user) is None


@transaction.atomic
def set_up_second_factor(*, user: User, secret: str, typed: str) -> list[str]:
    """Keep a second factor after its first code; returns the recovery codes, which are shown once.

    Raises:
        CodeRefused: the code is not one of this secret now, or there is a second factor already.
    """
    User.objects.select_for_update().only("pk").get(pk=user.pk)
    if SecondFactor.objects.filter(user=user).exists():
        raise CodeRefused("A second factor is set up already. Remove it first.")
    step = matching_step(secret, typed, timezone.now().timestamp())
    if step is None:
        raise CodeRefused("That is not the code the app shows now. Check the phone’s clock, and enter the next one.")
    factor = SecondFactor(user=user, secret=secret, last_step=step, set_up_at=timezone.now())
    factor.full_clean()
    factor.save()
    codes = [make_password() for _ in range(RECOVERY_CODES)]
    RecoveryCode.objects.bulk_create(RecoveryCode(factor=factor, digest=_digest(code)) for code in codes)
    return codes


def use_code(*, user: User, typed: str) -> None:
    """Take a code of the app or a recovery code, once.

    Six wrong ones in a row, and this person waits, whatever they type. Tries are counted even where the caller fails.

    Raises:
        CodeRefused: wrong, used before, or too many tries.
    """
    refusal = _try(user, typed)
    if refusal:
        raise CodeRefused(refusal)


@transaction.atomic
def _try(user: User, typed: str) -> str:
    """Why the code is refused; empty when it counted. It returns, so that the count of wrong tries is kept."""
    factor = SecondFactor.objects.select_for_update().filter(user=user).first()
    if factor is None:
        return "No second factor is set up."
    now = timezone.now()
    if factor.wait_until is not None and now < factor.wait_until:
        return f"Too many wrong codes. Try again in {WAIT_MINUTES} minutes."
    step = matching_step(factor.secret, typed, now.timestamp())
    if step is not None and step > factor.last_step:
        _right(factor, last_step=step)
        return ""
    unused = factor.recovery_codes.filter(digest=_digest(typed), used_at__isnull=True)
    if step is None and unused.update(used_at=now):
        _right(factor, last_step=factor.last_step)
        return ""
    factor.wrong_tries += 1
    if factor.wrong_tries >= MOST_WRONG:
        factor.wrong_tries, factor.wait_until = 0, now + dt.timedelta(minutes=WAIT_MINUTES)
    factor.save(update_fields=["wrong_tries", "wait_until"])
    if step is not None:
        return "That code was used already. Wait for the app’s next one."
    return "That code is not right. Enter the one the app shows now, or a recovery code."


def _right(factor: SecondFactor, *, last_step: int) -> None:
    factor.last_step, factor.wrong_tries, factor.wait_until = last_step, 0, None
    factor.save(update_fields=["last_step", "wrong_tries", "wait_until"])


@transaction.atomic
def take_off(*, user: User) -> bool:
    """Remove a second factor and its recovery codes. Returns whether there was one."""
    return bool(SecondFactor.objects.filter(user=user).delete()[0])


def _digest(code: str) -> str:
    """As it was shown, or typed without its dashes and in capitals."""
    bare = "".join(character for character in code.lower() if character.isalnum())
    return hashlib.sha256(bare.encode("utf-8", "replace")).hexdigest()
