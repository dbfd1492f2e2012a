"""A person in the sheets that were brought in: the rows about them, and the files that wait with them in it."""

from __future__ import annotations

import json
from typing import Any

from django.db.models import Q, QuerySet, TextField
from django.db.models.functions import Cast

from workshop.customers.models import Customer
from workshop.sheets.models import OldNumber, Sheet, SheetChunk, SheetRow

ERASED = "This person was erased."
_SHORTEST = 5  # signs of a name that stands for one person and not for half the file


def erase_in_sheets(customer: Customer) -> None:
    """Empty the rows that are about a person or name them, and throw away files not imported yet that name them.

    Call it before the person's own record is emptied.
    """
    shop = customer.shop
    waiting = _naming(SheetChunk.objects.filter(sheet__shop=shop), "rows", customer)
    Sheet.objects.filter(pk__in=waiting.values("sheet"), imported_at=None).delete()
    about = Q(about=customer.pk) | Q(pk__in=_naming(SheetRow.objects.filter(sheet__shop=shop), "cells", customer))
    rows = SheetRow.objects.filter(about, sheet__shop=shop)
    emptied: dict[str, Any] = {
        "cells": {},
        "before": {},
        "after": {},
        "changes": [],
        "key": "",
        "second_key": "",
        "third_key": "",
        "about": None,
        "said": "",
    }
    # Nothing of it is imported or taken back any more: what it was about is known no longer.
    imported = list(rows.filter(outcome=SheetRow.Outcome.IMPORTED).values_list("pk", flat=True))
    rows.exclude(pk__in=imported).update(fate=SheetRow.Fate.REFUSED, reason=ERASED, **emptied)
    SheetRow.objects.filter(pk__in=imported).update(outcome=SheetRow.Outcome.STAYS, reason=ERASED, **emptied)
    OldNumber.objects.filter(shop=shop, thing=OldNumber.Thing.CUSTOMER, record=customer.pk).delete()


def _naming(rows: QuerySet[SheetRow] | QuerySet[SheetChunk], column: str, customer: Customer) -> QuerySet[SheetRow]:
    """Rows whose cells hold the person's name, a phone or the email, in whatever column of the file."""
    known_by = [word for word in (customer.name, customer.email, *customer.phones) if len(word) >= _SHORTEST]
    named = Q(pk__in=[])
    # A database may take large and small for the same in plain letters only, and JSON may have others by number.
    for word in {form for one in known_by for form in (one, one.upper(), one.lower())}:
        named |= Q(text__icontains=word) | Q(text__icontains=json.dumps(word)[1:-1])
    return rows.annotate(text=Cast(column, TextField())).filter(named)  # type: ignore[return-value]
