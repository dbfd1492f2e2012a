"""The demo shop's checklists: read through and signed by an invented mechanic, but for one."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from diagnosis.models import Checklist
from workshop.signed.models import ChecklistSignature
from workshop.signed.signing import sign
from workshop.staff.models import Shop, User

NOT_READ = "oil-at-seals"
SIGNED_DAYS_AGO = 30


def make_signatures(*, shop: Shop, by: User) -> None:
    """Made-up signatures, as everything here: nobody has read these lists for a shop of their own."""
    for checklist in Checklist.objects.filter(is_current=True).exclude(key=NOT_READ):
        sign(shop=shop, checklist=checklist, seen_wording=checklist.wording, by=by)
    ChecklistSignature.objects.filter(shop=shop).update(
        signed_at=timezone.now() - dt.timedelta(days=SIGNED_DAYS_AGO, hours=2)
    )
