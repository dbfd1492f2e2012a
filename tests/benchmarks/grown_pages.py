"""Every page that staff can open, at its address in a shop of `manage.py big_shop`.

The list is who_may_enter.txt, so that a new page is measured by itself; `NOT_PAGES` says what is left out, and why.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.urls import reverse
from django.utils import timezone

from tests.addresses import parts_of
from tests.full_shop import stands_for
from tests.known import known

if TYPE_CHECKING:
    from workshop.reminders.due import DueRow
    from workshop.staff.models import Shop

TABLE = Path(__file__).parents[1] / "workshop" / "who_may_enter.txt"
STEP_SHOWN = "inspect-wipers"
DEMO_UNITS = 60
# What is read once to be kept, or is a file: its size is that of what it holds.
NOT_PAGES = frozenset({
    "home", "sign_in", "second_step", "health", "live", "ready", "bench:worker", "counter:photo", "counter:small_photo",
    "documents:pdf", "stores:export_movements", "stores:export_orders", "stores:export_kits", "stores:export_parts",
    "stores:order_pdf", "stores:order_csv", "office:specs_export", "office:privacy_export", "office:books",
    "office:checklists_export", "office:checklist_export", "office:reminders_letter", "office:reminders_calendar",
    "office:figure_csv", "office:figure_tickets", "office:move_in_sample", "office:move_out",
    "counter:month_books", "stores:certificate", "office:specs_manual_file",
})  # fmt: skip
_HELD_BY_ALL = "example"  # in each email: a list as long in the small shop as in the large one
ASKED = {
    "counter:tickets, handed back": ("counter:tickets", "?show=handed_back"),
    "counter:customers, found": ("counter:customers", f"?q={_HELD_BY_ALL}"),
    "counter:search, found": ("counter:search", "?q=wren"),
    "counter:models, found": ("counter:models", "?q=kes"),
    "office:privacy, found": ("office:privacy", f"?q={_HELD_BY_ALL}"),
}


def prepare() -> None:
    """Give a big shop what its pages ask for and the demo lacks: a policy, a draft, a reminder, a measured fork."""
    from diagnosis.models import Checklist, ChecklistDraft
    from tests.measured_fork import measurement_of
    from workshop.checklists.drafting import start_draft
    from workshop.models import Batch, ForkMeasurement, Message, PriceUpdate, Sheet, StockItem, StockTake, Ticket
    from workshop.moving.kinds import KINDS
    from workshop.privacy.erasing import edit_retention, retention_of
    from workshop.reminders.queueing import queue_reminder
    from workshop.sheets.steps import bring_in, go_on
    from workshop.staff.models import User
    from workshop.stock.batches import batch_named
    from workshop.stock.price_models import NewPrice
    from workshop.stock.price_updates import keep_update
    from workshop.stock.stock_taking import start_stock_take

    owner = User.objects.select_related("shop").get(username="owner")
    edit_retention(shop=known(owner.shop), seen_version=retention_of(known(owner.shop)).version, years=3)
    if not ChecklistDraft.objects.exists():
        start_draft(checklist=Checklist.objects.get(key="sits-low", is_current=True), by=owner)
    if not ForkMeasurement.objects.exists():
        newest = Ticket.objects.select_related("unit").filter(shop=owner.shop).order_by("-number")[0]
        measurement_of(newest.unit, owner)
    if not StockTake.objects.exists():
        start_stock_take(shop=known(owner.shop), shelf="A", blind=False, by_two=False, by=owner)
    if not PriceUpdate.objects.exists():
        item = StockItem.objects.filter(shop=owner.shop).order_by("pk")[0]
        dearer = NewPrice(item=item, what=NewPrice.What.PRICE, old=item.price, new=item.price + 1)
        tomorrow = timezone.localdate() + dt.timedelta(days=1)
        keep_update(shop=known(owner.shop), words="Dearer", from_on=tomorrow, lines=[dearer], by=owner)
    if not Batch.objects.exists():
        item = StockItem.objects.filter(shop=owner.shop).order_by("pk")[0]
        batch_named(item=item, number="24-117", use_by=None, by=owner)
    if not Sheet.objects.exists():
        sheet = bring_in(
            shop=known(owner.shop), kind=KINDS["parts"], name="p.csv", content=b"number,description\nX,Y\n", by=owner
        )
        go_on(shop=known(owner.shop), kind=KINDS["parts"], pk=sheet.pk, seen=("looking", 0), by=owner)
    if not Message.objects.filter(state=Message.State.QUEUED).exists():
        row = next(row for row in _due_rows(known(owner.shop)) if row.may_remind and row.customer.address)
        queue_reminder(
            row=row, channel="letter", by=owner, subject="Due (demo)", body="Demo data.", stop_url="https://shop.example/"
        )  # fmt: skip


def addresses() -> dict[str, str]:
    """Each page by its name, for the ticket half way through its diagnosis and what belongs to it."""
    ids = _ids()
    found = {
        name: reverse(name, kwargs={part: stands_for(ids, name, part) for part in parts_of(name)}) for name in _pages()
    }
    for name, (route, query) in ASKED.items():
        found[name] = found[route] + query
    from workshop.office.figures.registry import FIGURES

    for key in FIGURES:
        found[f"office:figure, {key}"] = reverse("office:figure", args=[key]) + _days()
    found["office:figures"] += _days()
    del found["office:figure"]
    return found


def _pages() -> list[str]:
    lines = [line.split() for line in TABLE.read_text().splitlines() if line and not line.startswith("#")]
    staff = {"all", "counter", "bench", "owner"}
    return [name for name, look, _ in lines if look in staff and name not in NOT_PAGES]


def _days() -> str:
    """Days on which the large shop and the small one have handed back alike, of the two weeks they booked alike."""
    last = timezone.localdate() - dt.timedelta(days=21)
    return f"?first={last - dt.timedelta(days=10)}&last={last}"


def _ids() -> dict[str, Any]:
    """What stands for each part of an address, as in tests/full_shop.py."""
    from workshop import models as records
    from workshop.staff.models import User

    owner = User.objects.select_related("shop").get(username="owner")
    tickets = records.Ticket.objects.filter(shop=owner.shop)
    ticket = tickets.order_by("-number")[0]
    due = next(row for row in _due_rows(known(owner.shop)) if row.unit.model_id)
    run = ticket.ticket_runs.get().run_id
    return {
        "ticket": ticket.number, "ready": tickets.filter(state="ready").order_by("-number")[0].number,
        "order": records.PurchaseOrder.objects.order_by("number")[0].number, "customer": ticket.customer_id,
        "bike": ticket.bike_id, "unit": ticket.unit_id, "moment": "arrival", "level": "lowers",
        "checklist": "sits-low", "run": run, "step": STEP_SHOWN, "bolt": "axle", "sum": "units", "step_kind": "check",
        "torque_tool": records.TorqueTool.objects.order_by("pk")[0].pk,
        "kit": _first("specs.ServiceKit"), "part": _first("specs.Part"), "stock_item": _first("workshop.StockItem"),
        "message": records.Message.objects.filter(state="queued").order_by("pk")[0].pk, "due_unit": due.unit.pk,
        "model": ticket.unit.model_id, "quantity": "max_pressure", "figure": "turnaround",
        "spec_value": _first("specs.SpecValue"), "counter": owner.pk, "mechanic": owner.pk,
        "measurement": _first("workshop.ForkMeasurement"),
        "supplier": _first("workshop.Supplier"),
        "stock_take": records.StockTake.objects.order_by("number")[0].number,
        "price_update": records.PriceUpdate.objects.order_by("pk")[0].pk,
        "sheet": records.Sheet.objects.order_by("pk")[0].pk, "sheet_kind": "customers",
        "batch": _first("workshop.Batch"),
    }  # fmt: skip


def _due_rows(shop: Shop) -> Iterator[DueRow]:
    """Of the demo's own units, which are the first."""
    from workshop.reminders.due import due_row

    for unit in shop.units.order_by("pk").values_list("pk", flat=True)[:DEMO_UNITS]:
        if row := due_row(shop, unit, timezone.localdate()):
            yield row


def _first(label: str) -> int:
    from django.apps import apps

    return int(apps.get_model(label)._default_manager.order_by("pk").values_list("pk", flat=True)[0])
