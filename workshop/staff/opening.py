"""Opening a shop: its record, its set-up guide, and an owner who can sign in."""

from __future__ import annotations

import zoneinfo

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.staff.adding import add_staff
from workshop.staff.guide_models import SetUpGuide
from workshop.staff.models import Shop, User


@transaction.atomic
def open_shop(*, name: str, owner: str, time_zone: str = "UTC") -> tuple[User, str]:
    """Make a shop and its owner; return the owner and the password of the first sign-in.

    Raises ValidationError for a name that is empty or taken, or a time zone nobody knows.
    """
    if time_zone not in zoneinfo.available_timezones():
        raise ValidationError(f"“{time_zone}” is not a time zone, such as Europe/Dublin.")
    shop = Shop(name=name, time_zone=time_zone)
    shop.full_clean()
    shop.save()
    SetUpGuide.objects.create(shop=shop)
    return add_staff(shop=shop, by=None, username=owner, first_name="", last_name="", roles=[User.Role.OWNER])
