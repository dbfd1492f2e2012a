"""An order as an email: nothing leaves without a press, it leaves once, and again only when it is another order."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core import mail
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from tests.factories import ShopFactory, StockItemFactory, SuspensionUnitFactory, UserFactory
from workshop.models import Message, PurchaseOrder, Supplier
from workshop.reminders.order_mail import CannotMail, order_mail, queue_order_mail, why_not_mailed
from workshop.reminders.queueing import send_again
from workshop.reminders.sending import send_waiting
from workshop.stock.order_changes import cancel_line
from workshop.stock.ordering import close_order, place_order
from workshop.stock.suppliers import set_offer
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db


@pytest.fixture
def order() -> PurchaseOrder:
    shop = ShopFactory(name="Mill Yard", email="desk@mill-yard.example", address="2 Mill Lane")
    item = StockItemFactory(shop=shop, supplier="North", part__description="Wiper, test", part__number="W-36")
    Supplier.objects.filter(shop=shop).update(email="orders@north.example", account="K-17", address="1 North Quay")
    set_offer(item=item, supplier=Supplier.objects.get(), number="N-4711", pack=Decimal(10), price=Decimal("19.99"))
    other = StockItemFactory(shop=shop, supplier="North", cost=None)
    return place_order(
        shop=shop, supplier="North", quantities={item.pk: Decimal(20), other.pk: Decimal(1)}, by=None, note="By Friday"
    )


def stored(order: PurchaseOrder) -> PurchaseOrder:
    return PurchaseOrder.objects.select_related("shop").get(pk=order.pk)


def test_it_says_what_is_ordered_and_carries_the_list(order: PurchaseOrder) -> None:
    message = queue_order_mail(order=order, seen_version=1, by=None)
    assert mail.outbox == []
    assert send_waiting(shop=order.shop, only=message.pk).sent == 1
    (email,) = mail.outbox
    assert (email.to, email.subject) == (["orders@north.example"], "Order 1 of Mill Yard")
    for words in ("- 20 (2 × 10) your N-4711, Wiper, test", "(our W-36), 39.98 EUR", "K-17", "By Friday", "2 Mill Lane",
                  "Total 39.98 EUR, without 1 of which we know no price"):  # fmt: skip
        assert words in email.body
    (name, content, kind) = email.attachments[0]
    assert (name, kind) == ("order-1.csv", "text/csv")
    assert "N-4711" in str(content)
    assert stored(order).sent_at is not None
    assert [step.kind for step in order.steps.all()] == ["sent"]


def test_pressed_twice_it_leaves_once(order: PurchaseOrder) -> None:
    queue_order_mail(order=stored(order), seen_version=1, by=None)
    with pytest.raises(StaleVersion):
        queue_order_mail(order=stored(order), seen_version=1, by=None)
    with pytest.raises(CannotMail, match="mailed as it is now"):
        queue_order_mail(order=stored(order), seen_version=stored(order).version, by=None)
    assert Message.objects.count() == 1


def test_changed_it_is_mailed_again_and_says_so(order: PurchaseOrder) -> None:
    queue_order_mail(order=stored(order), seen_version=1, by=None)
    now = stored(order)
    cancel_line(order=now, seen_version=now.version, line=now.lines.get(item__cost=None), reason="", by=None)
    again = order_mail(stored(order))
    assert (again.subject, why_not_mailed(stored(order), again)) == ("Changed order 1 of Mill Yard", "")
    assert again.body.count("\n- ") == 1


def test_why_it_cannot_leave(order: PurchaseOrder) -> None:
    Supplier.objects.update(email="")
    with pytest.raises(CannotMail, match="no email address for North"):
        queue_order_mail(order=stored(order), seen_version=1, by=None)
    Supplier.objects.update(email="orders@north.example")
    close_order(order=stored(order), seen_version=1)
    with pytest.raises(CannotMail, match="closed"):
        queue_order_mail(order=stored(order), seen_version=2, by=None)
    assert not Message.objects.exists()


def test_an_order_closed_meanwhile_does_not_leave_and_one_that_came_back_goes_to_the_address_as_it_is(
    order: PurchaseOrder,
) -> None:
    message = queue_order_mail(order=stored(order), seen_version=1, by=None)
    Message.objects.update(state="failed")
    Supplier.objects.update(email="new@north.example")
    message.refresh_from_db()
    assert send_again(message=message)
    assert Message.objects.get().to_address == "new@north.example"
    close_order(order=stored(order), seen_version=stored(order).version)
    assert send_waiting(shop=order.shop).called_off == 1
    assert mail.outbox == []


def test_a_message_is_to_a_customer_or_of_an_order(order: PurchaseOrder) -> None:
    message, unit = queue_order_mail(order=order, seen_version=1, by=None), SuspensionUnitFactory()
    for wrong in ({"order": None}, {"customer": unit.customer}, {"kind": "ready"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Message.objects.filter(pk=message.pk).update(**wrong)


def test_it_is_read_before_it_is_sent_and_stands_in_the_outbox(client: Client, order: PurchaseOrder) -> None:
    client.force_login(UserFactory(shop=order.shop, owner=True))
    page = reverse("stores:mail_order", args=[order.number])
    assert "your N-4711" in client.get(page).text
    assert not Message.objects.exists()
    answer = client.post(page, {"seen_version": 1}, follow=True)
    assert "The order to orders@north.example has left." in answer.text
    assert len(mail.outbox) == 1
    assert "mailed as it is now" in client.get(page).text
    assert "mailed as it is now" in client.post(page, {"seen_version": stored(order).version}, follow=True).text
    outbox = client.get(reverse("office:reminders_outbox")).text
    assert reverse("stores:order", args=[order.number]) in outbox
    shown = client.get(reverse("office:reminders_message", args=[Message.objects.get().pk])).text
    assert "with its list as a file" in shown
    assert len(mail.outbox) == 1
