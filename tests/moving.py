"""Sheets brought in as the pages do it, step by step."""

from __future__ import annotations

from collections.abc import Sequence

from tests.factories import UserFactory
from workshop.models import Sheet, Shop, User
from workshop.moving.kinds import KINDS
from workshop.sheets.steps import begin_import, begin_taking_back, bring_in, go_on, match_columns


def to_the_end(sheet: Sheet, by: User | None = None) -> Sheet:
    """The pass that is under way, pressed on by whoever began it where nobody else is given."""
    while sheet.is_running:
        seen = (sheet.state, sheet.handled)
        sheet = go_on(shop=sheet.shop, kind=KINDS[sheet.kind], pk=sheet.pk, seen=seen, by=by or sheet.imported_by)
    return sheet


def looked_at(shop: Shop, kind: str, content: bytes | str, *, decimal_sign: str = "", name: str = "x.csv") -> Sheet:
    """What would become of a file; its columns are those that were guessed."""
    data = content.encode() if isinstance(content, str) else content
    sheet = bring_in(shop=shop, kind=KINDS[kind], name=name, content=data, by=None)
    if sheet.state == "matching":
        match_columns(shop=shop, kind=KINDS[kind], pk=sheet.pk, matching=sheet.matching, decimal_sign=decimal_sign)
        sheet.refresh_from_db()
    return to_the_end(sheet)


def imported(sheet: Sheet, *, with_counts: bool = False) -> Sheet:
    kind = KINDS[sheet.kind]
    by = UserFactory(shop=sheet.shop)
    return to_the_end(begin_import(shop=sheet.shop, kind=kind, pk=sheet.pk, by=by, with_counts=with_counts))


def moved_in(shop: Shop, kind: str, content: bytes | str) -> Sheet:
    return imported(looked_at(shop, kind, content))


def taken_back(sheet: Sheet) -> Sheet:
    return to_the_end(begin_taking_back(shop=sheet.shop, kind=KINDS[sheet.kind], pk=sheet.pk))


def fates(sheet: Sheet) -> list[str]:
    return [row.fate for row in sheet.rows.all()]


def reasons(sheet: Sheet) -> Sequence[str]:
    return [row.reason for row in sheet.rows.all() if row.reason]
