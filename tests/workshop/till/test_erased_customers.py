"""A customer who is erased: the money stays for the books, without the person."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from tests.factories import CustomerFactory, ShopFactory, SuspensionUnitFactory, UserFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.models import Customer, HandOverTakenBack, Payment, Receipt
from workshop.privacy.erasing import erase_customer
from workshop.privacy.export import gather_person
from workshop.till.taking import pay_back, take_payment
from workshop.work.taking_back import open_again

pytestmark = pytest.mark.django_db


def test_numbers_and_sums_stay_and_the_person_goes() -> None:
    shop = ShopFactory()
    customer = CustomerFactory(shop=shop, name="Quorina Zabel", address="9 Weir Row")
    ticket = ready_ticket(shop=shop, customer=customer, unit=SuspensionUnitFactory(shop=shop, customer=customer))
    hand_it_over(ticket, part("cash", "80"))
    open_again(ticket=ticket, reason="Zabel asked", by=None, seen_version=ticket.version)
    pay_back(ticket=ticket, kind="cash", amount=Decimal(30), reason="Quorina came by", client_id=uuid.uuid4(), by=None)
    hand_it_over(ticket, part("card", "10"), on_account=True)
    with pytest.raises(ValidationError, match="A sum of theirs is open"):
        erase_customer(customer=customer, by=None)
    take_payment(ticket=ticket, part=part("card", "20"), client_id=uuid.uuid4(), by=None)
    told = str(gather_person(customer))
    assert "Quorina came by" in told
    assert Receipt.objects.filter(kind="credit").get().number_words in told

    fresh = Customer.objects.get(pk=customer.pk)
    erase_customer(customer=fresh, by=UserFactory(shop=shop, owner=True))
    left = " ".join(
        str(row) for model in (Receipt, Payment, HandOverTakenBack) for row in model._default_manager.values_list()
    )
    assert "Quorina" not in left
    assert "Zabel" not in left
    assert "Weir Row" not in left
    assert [(one.number_words[:1], one.gross) for one in Receipt.objects.all()] == [
        ("2", Decimal(80)), ("C", Decimal(-80)), ("2", Decimal(80)),
    ]  # fmt: skip
