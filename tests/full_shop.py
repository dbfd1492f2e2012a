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
from workshop.documents.issuing import digest_of_paper
from workshop.intervals.models import ServiceDone
from workshop.links.links import make_link
from workshop.manuals.files import ManualFile
from workshop.manuals.keeping import attach_page
from workshop.office.figures.registry import FIGURES
from workshop.reminders.due import due_row
from workshop.reminders.opt_out import stop_token
from workshop.reminders.queueing import queue_reminder
from workshop.signed.signing import sign
from workshop.staff.devices import let_device_in
from workshop.staff.quick_codes import set_code
from workshop.till.receipts import issue_receipt
from workshop.torque.care import add_calibration, check_tool, lend
from workshop.torque.certificates import Certificate
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
    (r"counter:(hand_back|tell_\w+) number", "ready"),
    (r"stores:\w*stock_take\w* number", "stock_take"),
    (r"office:\w*sheet\w* pk", "sheet"),
    (r"office:move_in\w* kind", "sheet_kind"),
    (r".* number", "ticket"),
    (r"counter:take_mark_off pk", "mark"),
    (r"counter:((small|show)_)?photo pk|counter:take_photo_off pk", "photo"),
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
    (r"charges:\w+_discount pk", "discount"),
    (r"charges:drop_variant_line pk", "variant_line"),
    (r"charges:(offer_\w+|drop_variant) pk", "variant"),
    (r"charges:.* pk", "labour_line"),
    (r"counter:month_books what", "book"),
    (r"stores:swap_superseded pk", "part_line"),
    (r"stores:countersign pk", "bolt_record"),
    (r"stores:order_delivery_back pk", "delivery"),
    (r"stores:order_not_given_back pk", "sent_back"),
    (r"stores:(edit_|archive_)?supplier pk", "supplier"),
    (r"stores:prefer_offer offer_pk", "offer"),
    (r"stores:(part_numbers|remove_part_number) pk", "part"),
    (r"stores:.* bolt", "bolt"),
    (r"stores:.*torque_tool pk", "torque_tool"),
    (r"stores:certificate pk", "calibration"),
    (r"stores:(edit|remove)_part pk", "part"),
    (r"stores:.*kit.* pk", "kit"),
    (r"stores:.* line_pk", "kit_line"),
    (r"stores:change_old_part pk", "old_part"),
    (r"stores:(batch\w*|open_bottle|count_batch|correct_batch) pk", "batch"),
    (r"stores:\w+_prices pk|stores:price_update pk", "price_update"),
    (r"stores:.* pk", "stock_item"),
    (r"office:end_absence pk", "absence"),
    (r"office:(calendar|add_absence|usual_hours) pk", "mechanic"),
    (r"office:reminders_\w+ pk", "message"),
    (r"office:reminders_\w+ unit", "due_unit"),
    (r"office:take_back_tax_rate pk", "tax_rate"),
    (r"office:staff_\w+ pk", "counter"),
    (r"office:device_end pk", "device"),
    (r"office:specs_check pk", "spec_value"),
    (r"office:specs_manual_(file|off) pk", "manual_page"),
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
    take = shop_records.StockTake.objects.create(
        shop=shop, number=first_number, shelf=mark.upper(), started_by=counter, started_at=now
    )
    shop_records.ShelfCount.objects.create(
        take=take, item=item, counted=Decimal(3), level=Decimal(4), by=counter, at=now
    )
    sheet = shop_records.Sheet.objects.create(
        shop=shop, kind="parts", name=f"{mark}.csv", state="looked", rows_in_all=1, by=owner, at=now
    )
    shop_records.SheetRow.objects.create(
        sheet=sheet, position=0, place=2, fate="new", cells={"number": f"{mark}-9", "description": f"{mark} sheet part"}
    )
    shop_records.SheetChunk.objects.create(sheet=sheet, first=0, rows=[[2, [f"{mark}-9"], ""]])
    shop_records.OldNumber.objects.create(shop=shop, thing="customer", number=f"{mark}-77", record=customer.pk)
    tool = make.TorqueToolFactory(shop=shop, number=f"{mark}-1", name=f"{mark} wrench")
    labour = shop_records.LabourLine.objects.create(
        ticket=ticket, words=f"{mark} labour", price=Decimal(33), by=owner, at=now
    )
    calibration = _calibrated(tool, mark, mechanic)
    bolt = make.BoltRecordFactory(ticket=ticket, by=mechanic, tool=tool)
    told = ToldOtherwise.objects.create(run=run, job=run.job, part="wheel", value="out", note=f"{mark} told")
    Run.objects.filter(pk=run.pk).update(said=1)
    measurement = measurement_of(unit, mechanic)
    finding = shop_records.FreeFinding.objects.create(
        ticket=ticket, kind="by_the_way", place=f"{mark} knob", text=f"{mark} chipped", by=mechanic, at=now
    )
    make.SettingsRecordFactory(ticket=ticket, remarks=f"{mark} settings")
    scratch = make.ConditionNoteFactory(ticket=ticket, text=f"{mark} scratch")
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
    shop_records.ClosedDay.objects.create(shop=shop, day=today + dt.timedelta(days=9), why=f"{mark} feast")
    shop_records.MechanicWeek.objects.create(mechanic=mechanic, monday=6)
    absence = shop_records.Absence.objects.create(
        mechanic=mechanic, first=today + dt.timedelta(days=9), last=today + dt.timedelta(days=9),
        reason=f"{mark} away", by=owner, at=now,
    )  # fmt: skip
    return FullShop(
        mark=mark, shop=shop, counter=counter, mechanic=mechanic, owner=owner, ticket=ticket, ready=ready,
        secret=secret, taken=taken, shared=shared,
        ids={
            "ticket": ticket.number, "ready": ready.number, "order": order.number, "secret": secret, "size": "small",
            "stop": stop_token(customer), "customer": customer.pk, "bike": bike.pk, "unit": unit.pk,
            "mark": scratch.pk, "photo": photo.pk, "customer_photo": for_customer.pk, "link": link.pk,
            "moment": "arrival",
            "document_kind": document.kind, "revision": document.revision, "level": "lowers",
            "part_line": part_line.pk, "checklist": checklist.key, "run": run.pk, "timer": timer.pk, "step": step.key,
            "labour_line": labour.pk, "finding": finding.pk, "measurement": measurement.pk, "told": told.pk,
            "finding_token": f"free-{finding.pk}", "bolt_record": bolt.pk, "bolt": "axle", "torque_tool": tool.pk,
            "calibration": calibration.pk, "manual_page": _manual_page(shop, plain_model, mark, mechanic).pk,
            "stock_item": item.pk, "absence": absence.pk, "mechanic": mechanic.pk, "message": message.pk,
            "delivery": order.deliveries.get().pk, "offer": item.offers.get().pk,
            "sent_back": order.lines.get().sent_back.get().pk, "supplier": shop.suppliers.get().pk,
            "due_unit": due.pk, "counter": counter.pk, "sum": "units", "figure": next(iter(FIGURES)),
            "price_update": _price_update(item, mark, owner).pk, "tax_rate": _tax_rate(shop, owner).pk,
            **_variant(ticket, mark, owner), "old_part": _old_part(ticket, mark).pk,
            "discount": _discount(ticket, mark).pk, "book": "receipts",
            "step_kind": "check", "signature": signature.pk, "stock_take": take.number,
            "sheet": sheet.pk, "sheet_kind": "customers", "device": _device(shop, mark, owner).pk,
            "batch": _batch(item, mark).pk, **shared.ids,
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
        ticket=ticket, kind=kind, revision=1, paper="A4", data=data, data_digest=digest_of_paper(data), issued_by=by,
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
    ordered = shop_records.OrderLine.objects.create(order=order, item=item, ordered=Decimal(2), cost=Decimal(1))
    _bought(item, order, ordered, mark, by)
    return item, line, order


def _price_update(item: shop_records.StockItem, mark: str, by: shop_records.User) -> shop_records.PriceUpdate:
    update = shop_records.PriceUpdate.objects.create(
        shop=item.shop, words=f"{mark} prices", from_on=timezone.localdate() + dt.timedelta(days=9), by=by,
        at=timezone.now(),
    )  # fmt: skip
    shop_records.NewPrice.objects.create(update=update, item=item, what="price", old=item.price, new=item.price + 1)
    return update


def _variant(ticket: shop_records.Ticket, mark: str, by: shop_records.User) -> dict[str, int]:
    variant = shop_records.Variant.objects.create(ticket=ticket, name=f"{mark} repair", by=by, at=timezone.now())
    line = shop_records.VariantLine.objects.create(variant=variant, words=f"{mark} reamed", price=Decimal(55))
    return {"variant": variant.pk, "variant_line": line.pk}


def _old_part(ticket: shop_records.Ticket, mark: str) -> shop_records.OldPart:
    return shop_records.OldPart.objects.create(ticket=ticket, words=f"{mark} wiper", note="", at=timezone.now())


def _batch(item: shop_records.StockItem, mark: str) -> shop_records.Batch:
    batch = shop_records.Batch.objects.create(item=item, number=f"{mark} batch", at=timezone.now())
    shop_records.BatchMovement.objects.create(batch=batch, quantity=Decimal(2), at=timezone.now())
    return batch


def _tax_rate(shop: shop_records.Shop, by: shop_records.User) -> shop_records.TaxRate:
    return shop_records.TaxRate.objects.create(
        shop=shop, from_on=timezone.localdate() + dt.timedelta(days=9), labour_percent=Decimal(7),
        parts_percent=Decimal(7), by=by, at=timezone.now(),
    )  # fmt: skip


def _calibrated(tool: shop_records.TorqueTool, mark: str, mechanic: shop_records.User) -> shop_records.Calibration:
    """With a certificate, lent, and checked."""
    calibration = add_calibration(
        tool=tool, by=mechanic, seen_version=tool.version, on=timezone.localdate(), due=timezone.localdate(),
        by_whom=f"{mark} laboratory", as_left="within", certificate=Certificate(b"%PDF-1.7 %%EOF", "pdf"),
    )  # fmt: skip
    lend(tool=tool, to=f"{mark} neighbour", by=mechanic)
    check_tool(tool=tool, by=mechanic, reference_nm=10, read_nm=10)
    return calibration


def _manual_page(
    shop: shop_records.Shop, model: SuspensionModel, mark: str, by: shop_records.User
) -> shop_records.ManualPage:
    return attach_page(
        shop=shop, model=model, by=by, document=f"{mark} manual", revision="", page="12",
        file=ManualFile(small_jpeg() + mark.encode(), "jpg"),
    )  # fmt: skip


def _bought(
    item: shop_records.StockItem,
    order: shop_records.PurchaseOrder,
    line: shop_records.OrderLine,
    mark: str,
    by: shop_records.User,
) -> None:
    """One came damaged and went back, its money came; something is changed by hand of what is to be ordered."""
    supplier = shop_records.Supplier.objects.get(shop=item.shop, name=order.supplier)
    shop_records.SupplierPart.objects.create(item=item, supplier=supplier, number=f"{mark} 4711", price=Decimal(1))
    shop_records.BasketLine.objects.create(item=item, quantity=Decimal(3), by=by, at=timezone.now())
    delivery = shop_records.Delivery.objects.create(order=order, note=f"{mark} note", by=by, at=timezone.now())
    shop_records.DeliveryLine.objects.create(delivery=delivery, line=line, damaged=Decimal(1), note=f"{mark} dented")
    shop_records.SentBack.objects.create(
        line=line, what="unusable", quantity=Decimal(1), reason=f"{mark} dented", replaced=True, by=by,
        at=timezone.now(),
    )  # fmt: skip
    shop_records.SupplierCredit.objects.create(
        order=order, amount=Decimal(1), note=f"{mark} credit", by=by, at=timezone.now()
    )
    shop_records.OrderStep.objects.create(
        order=order, kind="confirmed", reason=f"{mark} word", by=by, at=timezone.now()
    )


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
    _paid(ticket, amount, mark)
    return str(amount)


def _paid(ticket: shop_records.Ticket, amount: Decimal, mark: str) -> None:
    """Handed over and paid, with its receipt; too much was paid, and that was paid back."""
    one = shop_records.HandOver.objects.create(
        ticket=ticket, client_id=uuid.uuid4(), currency="EUR", gross=amount, at=timezone.now()
    )
    for number, (kind, paid, reason) in enumerate([("cash", amount + 5, ""), ("cash", Decimal(-5), f"{mark} back")]):
        shop_records.Payment.objects.create(
            shop=ticket.shop, ticket=ticket, hand_over=one, kind=kind, amount=paid, currency="EUR", reason=reason,
            client_id=one.client_id, part=number, at=timezone.now(),
        )  # fmt: skip
    issue_receipt(hand_overs=[one], by=None)


def _discount(ticket: shop_records.Ticket, mark: str) -> shop_records.Discount:
    for amount, reason in ((Decimal(5), ""), (Decimal(-5), f"{mark} deposit")):
        shop_records.Payment.objects.create(
            shop=ticket.shop, ticket=ticket, kind="card", amount=amount, currency="EUR", client_id=uuid.uuid4(),
            reason=reason, at=timezone.now(),
        )  # fmt: skip
    return shop_records.Discount.objects.create(
        ticket=ticket, amount=Decimal(1), reason=f"{mark} goodwill", at=timezone.now()
    )


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


def _device(shop: shop_records.Shop, mark: str, owner: shop_records.User) -> shop_records.Device:
    device, _ = let_device_in(shop=shop, name=f"{mark} tablet", by=owner)
    set_code(user=owner, code="2580")
    shop_records.WrongCode.objects.create(device=device, user=owner, at=timezone.now())
    return device


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
