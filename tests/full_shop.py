"""A shop with one of everything it can hold, so that every address has something to open.

Every text that belongs to the shop carries its mark; where the mark shows, the shop's data show.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone
from PIL import Image

from diagnosis.models import ChecklistDraft, Run, Step, StepTimer, ToldOtherwise
from specs.models import Part, SuspensionModel
from specs.units import to_si
from tests import factories as make
from tests.measured_fork import measurement_of
from tests.shipped import shipped_checklist
from workshop import models as shop_records
from workshop.checklists.drafting import start_draft
from workshop.documents.issuing import digest_of
from workshop.intervals.models import ServiceDone
from workshop.links.links import make_link
from workshop.office.figures.registry import FIGURES
from workshop.reminders.due import due_row
from workshop.reminders.opt_out import stop_token
from workshop.reminders.queueing import queue_reminder
from workshop.signed.signing import sign
from workshop.web.folding import fold

PDF = b"%PDF-1.7\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"
FIRST_STEP = "record-arrival"
SOAKING = "foam-rings"  # a step with a timer


@dataclass(frozen=True)
class Shared:
    """What every shop of the database reads: two fork models, the second with an interval, and two parts."""

    models: tuple[SuspensionModel, SuspensionModel]
    parts: tuple[Part, Part]
    ids: Mapping[str, Any]


@dataclass(frozen=True)
class FullShop:
    """The shop, its people, the secret of its customer's link, and what stands for each part of an address."""

    mark: str
    shop: shop_records.Shop
    counter: shop_records.User
    mechanic: shop_records.User
    owner: shop_records.User
    ticket: shop_records.Ticket
    ready: shop_records.Ticket
    secret: str
    taken: str
    shared: Shared
    ids: Mapping[str, Any]

    def arguments(self, route: str, wanted: Mapping[str, object]) -> dict[str, Any]:
        """What a route's address is made with. Raises LookupError where `_IDS` has no line for one of its parts."""
        return {part: stands_for(self.ids, route, part) for part in wanted}


def stands_for(ids: Mapping[str, Any], route: str, part: str) -> Any:
    """What stands for a part of a route's address."""
    for pattern, key in _IDS:
        if re.fullmatch(pattern, f"{route} {part}"):
            return ids[key]
    raise LookupError(f"Say in tests/full_shop.py what stands for “{part}” in the address of {route}.")


# Route and part of its address, in the order they are tried, and the record whose key stands there.
_IDS = (
    (r"customer:stop token", "stop"),
    (r"customer:\w+ secret", "secret"),
    (r"customer:photo pk", "customer_photo"),
    (r"customer:photo size", "size"),
    (r"customer:withdraw_link pk", "link"),
    (r"stores:.*order\w* number|stores:order\w* number", "order"),
    (r"documents:\w+ kind", "document_kind"),
    (r"documents:\w+ revision", "revision"),
    (r"counter:hand_back number", "ready"),
    (r".* number", "ticket"),
    (r"counter:((small|show)_)?photo pk", "photo"),
    (r"counter:settings moment", "moment"),
    (r"(counter|office):.*(customer|new_bike|new_unit|privacy_\w+) pk", "customer"),
    (r"counter:.*bike pk", "bike"),
    (r"(counter|intervals):.* pk", "unit"),
    (r"intervals:rule level", "level"),
    (r"bench:.*part.* pk", "part_line"),
    (r"bench:\w*measure\w* pk", "measurement"),
    (r"bench:withdraw_finding pk", "finding"),
    (r"bench:untell pk", "told"),
    (r"bench:.* token", "finding_token"),
    (r"bench:start key", "checklist"),
    (r"bench:.* run_pk", "run"),
    (r"bench:.* timer_pk", "timer"),
    (r"bench:.* key", "step"),
    (r"checklists:\w+ key", "checklist"),
    (r"checklists:take_back pk", "signature"),
    (r"charges:.* pk", "labour_line"),
    (r"stores:countersign pk", "bolt_record"),
    (r"stores:.* bolt", "bolt"),
    (r"stores:.*torque_tool pk", "torque_tool"),
    (r"stores:(edit|remove)_part pk", "part"),
    (r"stores:.*kit.* pk", "kit"),
    (r"stores:.* line_pk", "kit_line"),
    (r"stores:.* pk", "stock_item"),
    (r"office:reopen_day pk", "closed_day"),
    (r"office:reminders_\w+ pk", "message"),
    (r"office:reminders_\w+ unit", "due_unit"),
    (r"office:staff_\w+ pk", "counter"),
    (r"office:specs_check pk", "spec_value"),
    (r"office:specs_\w+ pk", "model"),
    (r"office:specs_\w+ quantity", "quantity"),
    (r"office:figure\w* key", "figure"),
    (r"office:(checklist\w*|complaint_\w+|draft\w*) key", "checklist"),
    (r"office:draft_\w+ kind", "step_kind"),
    (r"office:draft_\w+ step", "step"),
    (r"sums:sum key", "sum"),
)


@cache
def small_jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (8, 6), "grey").save(out, "JPEG")
    return out.getvalue()


def full_shop(mark: str, *, first_number: int = 1, beside: FullShop | None = None) -> FullShop:
    """Make a shop, also beside one that is there. `first_number` keeps ticket and order numbers of two shops apart."""
    now, today = timezone.now(), timezone.localdate()
    shared = beside.shared if beside else _shared()
    plain_model, due_model = shared.models
    shop = make.ShopFactory(name=f"{mark} Suspension", email=f"desk@{mark.lower()}.example", address=f"1 {mark} Yard")
    counter, mechanic, owner = (
        make.UserFactory(shop=shop, role=role, username=f"{mark.lower()}-{role}", first_name=mark, last_name=role)
        for role in ("counter", "mechanic", "owner")
    )
    customer = _customer(shop, mark)
    bike = make.BikeFactory(customer=customer, description=f"{mark} hardtail", frame_number=f"{mark}-frame",
                            search_text=fold(f"{mark} hardtail"))  # fmt: skip
    unit = make.SuspensionUnitFactory(shop=shop, customer=customer, model=plain_model, serial=f"{mark}-serial",
                                      notes=f"{mark} unit", search_text=fold(f"{mark}-serial"))  # fmt: skip
    make.FittingFactory(unit=unit, bike=bike)
    checklist = shipped_checklist("sits-low")
    ticket = make.TicketFactory(
        shop=shop, number=first_number, customer=customer, unit=unit, bike=bike, state="on_the_bench",
        mechanic=mechanic, booked_by=counter, complaint_words=f"{mark}: it sits low.", notes=f"{mark} note",
        search_text=fold(f"{first_number} {mark}"),
    )  # fmt: skip
    ticket.complaints.add(checklist.complaint)
    if not ChecklistDraft.objects.exists():
        start_draft(checklist=checklist, by=owner)
    signature = sign(shop=shop, checklist=checklist, seen_wording=checklist.wording, by=mechanic)
    run, step, timer = _run(ticket, mechanic)
    photo, for_customer = (_photo(ticket, mark, shown) for shown in (False, True))
    document = _document(ticket, mark, owner, "estimate")
    _document(ticket, mark, owner, "customer_report")
    _answer(document, ticket, mark, counter)
    item, part_line, order = _stores(ticket, mark, owner, first_number, shared.parts)
    tool = make.TorqueToolFactory(shop=shop, number=f"{mark}-1", name=f"{mark} wrench")
    labour = shop_records.LabourLine.objects.create(
        ticket=ticket, words=f"{mark} labour", price=Decimal(33), by=owner, at=now
    )
    bolt = make.BoltRecordFactory(ticket=ticket, by=mechanic, tool=tool)
    told = ToldOtherwise.objects.create(run=run, job=run.job, part="wheel", value="out", note=f"{mark} told")
    Run.objects.filter(pk=run.pk).update(said=1)
    measurement = measurement_of(unit, mechanic)
    finding = shop_records.FreeFinding.objects.create(
        ticket=ticket, kind="by_the_way", place=f"{mark} knob", text=f"{mark} chipped", by=mechanic, at=now
    )
    make.SettingsRecordFactory(ticket=ticket, remarks=f"{mark} settings")
    make.ConditionNoteFactory(ticket=ticket, text=f"{mark} scratch")
    second = make.SuspensionUnitFactory(shop=shop, customer=customer, model=unit.model, serial=f"{mark}-second",
                                        search_text=fold(f"{mark}-second"))  # fmt: skip
    ready = make.TicketFactory(
        shop=shop, number=first_number + 1, customer=customer, unit=second, state="ready",
        complaint_words=f"{mark} service", promised_on=today - dt.timedelta(days=2),
        search_text=fold(f"{first_number + 1} {mark}"),
    )  # fmt: skip
    taken = _handed_back(shop, first_number + 2, unit, mark, owner)
    link, secret = make_link(ticket=ticket, by=counter)
    message = _message(shop, due_model, mark, owner)
    due = _due_unit(shop, due_model, mark)
    closed = shop_records.ClosedDay.objects.create(shop=shop, day=today + dt.timedelta(days=9), why=f"{mark} feast")
    return FullShop(
        mark=mark, shop=shop, counter=counter, mechanic=mechanic, owner=owner, ticket=ticket, ready=ready,
        secret=secret, taken=taken, shared=shared,
        ids={
            "ticket": ticket.number, "ready": ready.number, "order": order.number, "secret": secret, "size": "small",
            "stop": stop_token(customer), "customer": customer.pk, "bike": bike.pk, "unit": unit.pk,
            "photo": photo.pk, "customer_photo": for_customer.pk, "link": link.pk, "moment": "arrival",
            "document_kind": document.kind, "revision": document.revision, "level": "lowers",
            "part_line": part_line.pk, "checklist": checklist.key, "run": run.pk, "timer": timer.pk, "step": step.key,
            "labour_line": labour.pk, "finding": finding.pk, "measurement": measurement.pk, "told": told.pk,
            "finding_token": f"free-{finding.pk}", "bolt_record": bolt.pk, "bolt": "axle", "torque_tool": tool.pk,
            "stock_item": item.pk, "closed_day": closed.pk, "message": message.pk,
            "due_unit": due.pk, "counter": counter.pk, "sum": "units", "figure": next(iter(FIGURES)),
            "step_kind": "check", "signature": signature.pk, **shared.ids,
        },
    )  # fmt: skip


def _customer(shop: shop_records.Shop, mark: str, **changed: Any) -> shop_records.Customer:
    return make.CustomerFactory(
        shop=shop, name=f"{mark} Rider", address=f"2 {mark} Road", email=f"rider@{mark.lower()}.example",
        notes=f"{mark} note", search_text=fold(f"{mark} Rider"), **changed,
    )  # fmt: skip


def _run(ticket: shop_records.Ticket, mechanic: shop_records.User) -> tuple[Run, Step, StepTimer]:
    from diagnosis.runs import TypedReadings, start_run, tick

    checklist = shipped_checklist("sits-low")
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=mechanic)
    make.TicketRunFactory(ticket=ticket, run=run)
    tick(run=run, step_key=FIRST_STEP, outcome="done", by=mechanic, seen_version=run.version, client_id=uuid.uuid4(),
         readings=TypedReadings({"rest_travel": "28 mm"}))  # fmt: skip
    step = checklist.steps.get(key=SOAKING)
    timer = StepTimer.objects.create(run=run, step=step, seconds=600, started_at=timezone.now(), by=mechanic)
    return run, step, timer


def _photo(ticket: shop_records.Ticket, mark: str, for_customer: bool) -> shop_records.Photo:
    names = [default_storage.save(f"photos/{mark}-{size}.jpg", ContentFile(small_jpeg())) for size in ("full", "small")]
    return make.PhotoFactory(
        ticket=ticket, caption=f"{mark} photo", for_customer=for_customer, file=names[0], thumbnail=names[1]
    )


def _document(ticket: shop_records.Ticket, mark: str, by: shop_records.User, kind: str) -> shop_records.Document:
    data = {"shop": mark, "charges": {"gross": "30.00"}}
    document = shop_records.Document(
        ticket=ticket, kind=kind, revision=1, paper="A4", data=data, data_digest=digest_of(data), issued_by=by,
        issued_at=timezone.now(), digest=hashlib.sha256(PDF + mark.encode()).hexdigest(),
    )  # fmt: skip
    document.pdf.save(f"documents/{mark}-{kind}.pdf", ContentFile(PDF + mark.encode()), save=True)
    return document


def _answer(document: shop_records.Document, ticket: shop_records.Ticket, mark: str, by: shop_records.User) -> None:
    shop_records.Agreement.objects.create(
        document=document, ticket=ticket, agreed=True, amount=Decimal(30), data_digest=document.data_digest,
        how="phone", said_by=f"{mark} Rider", by=by, at=timezone.now(),
    )  # fmt: skip


def _stores(
    ticket: shop_records.Ticket, mark: str, by: shop_records.User, number: int, parts: tuple[Part, Part]
) -> tuple[shop_records.StockItem, shop_records.PartLine, shop_records.PurchaseOrder]:
    item = make.StockItemFactory(shop=ticket.shop, part=parts[0], shelf=f"{mark} shelf", supplier=f"{mark} Supplies")
    make.StockMovementFactory(item=item, quantity=Decimal(4), note=f"{mark} movement", by=by)
    line = make.PartLineFactory(ticket=ticket, part=item.part, quantity=Decimal(9), note=f"{mark} line")
    make.StockItemFactory(shop=ticket.shop, part=parts[1], shelf=f"{mark} shelf", reorder_level=Decimal(5))
    order = shop_records.PurchaseOrder.objects.create(
        shop=ticket.shop, number=number, supplier=f"{mark} Supplies", note=f"{mark} order", ordered_at=timezone.now(),
        ordered_by=by,
    )  # fmt: skip
    shop_records.OrderLine.objects.create(order=order, item=item, ordered=Decimal(2), cost=Decimal(1))
    return item, line, order


def _handed_back(
    shop: shop_records.Shop, number: int, unit: shop_records.SuspensionUnit, mark: str, owner: shop_records.User
) -> str:
    amount = Decimal(7000 + number) + Decimal("0.25")
    ticket = make.TicketFactory(
        shop=shop, number=number, customer=unit.customer, unit=unit, state="handed_back",
        complaint_words=f"{mark} before", search_text=fold(f"{number} {mark}"),
    )  # fmt: skip
    row = {"percent": "0", "net": str(amount), "tax": "0.00", "gross": str(amount)}
    shop_records.FinalCharges.objects.create(
        ticket=ticket, currency="EUR", tax_name="VAT", lines=[], tax_rows=[row], prices_include_tax=False,
        net=amount, tax=Decimal(0), gross=amount, by=owner, at=timezone.now(),
    )  # fmt: skip
    return str(amount)


def _due_unit(shop: shop_records.Shop, model: SuspensionModel, mark: str) -> shop_records.SuspensionUnit:
    rider = _customer(shop, mark, agreed_to_reminders=True)
    unit = make.SuspensionUnitFactory(
        shop=shop, customer=rider, model=model, serial=f"{mark}-due", search_text=fold(f"{mark}-due")
    )
    since = timezone.localdate() - dt.timedelta(days=244)
    ServiceDone.objects.create(unit=unit, level="lowers", on=since, told_by="test", at=timezone.now())
    return unit


def _message(shop: shop_records.Shop, model: SuspensionModel, mark: str, by: shop_records.User) -> shop_records.Message:
    unit = _due_unit(shop, model, mark)
    row = due_row(shop, unit.pk, timezone.localdate())
    assert row is not None
    return queue_reminder(
        row=row, channel="letter", by=by, subject=f"{mark} is due", body=f"{mark}: hello",
        stop_url=f"https://{mark.lower()}.example/c/stop/x/",
    )  # fmt: skip


def _shared() -> Shared:
    plain, due = make.SuspensionModelFactory(), make.SuspensionModelFactory()
    value = make.SpecValueFactory(model=plain)
    make.SpecValueFactory(
        model=due, quantity="lowers_interval_months", magnitude_si=to_si(6, "time", "months"), typed="6 months"
    )
    parts = (make.PartFactory(), make.PartFactory())
    line = make.KitLineFactory(kit__model=plain, part=parts[0])
    ids = {"model": plain.pk, "quantity": value.quantity, "spec_value": value.pk, "kit": line.kit_id,
           "kit_line": line.pk, "part": parts[0].pk}  # fmt: skip
    return Shared((plain, due), parts, ids)
