"""What the database keeps: levels are the sums of movements, last visits the latest; whoever writes the rows."""

from __future__ import annotations

import datetime as dt
import random
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.utils import timezone

from tests import factories
from tests.full_shop import full_shop
from workshop.kept import installing
from workshop.kept.models import LastVisit
from workshop.kept.triggers import what_differs
from workshop.privacy.erasing import erase_customer
from workshop.stock.batches import batch_named, level_in
from workshop.stock.models import StockLevel, StockMovement
from workshop.stock.moving import count, level_of, receive, write_off
from workshop.tickets.models import Ticket

pytestmark = pytest.mark.django_db


def test_a_level_is_the_sum_of_the_movements() -> None:
    item = factories.StockItemFactory()
    receive(item=item, quantity=Decimal("10.10"), by=None)
    receive(item=item, quantity=Decimal("0.20"), by=None)
    write_off(item=item, quantity=Decimal("0.30"), by=None, note="spilt")
    assert level_of(item) == Decimal("10.00")
    count(item=item, counted=Decimal("7.5"), by=None)
    assert (level_of(item), what_differs()) == (Decimal("7.50"), [])


def test_an_item_that_never_moved_is_at_nothing() -> None:
    assert level_of(factories.StockItemFactory()) == 0
    assert not StockLevel.objects.exists()


def test_a_level_follows_rows_that_no_function_of_ours_wrote() -> None:
    item, other = factories.StockItemFactory(), factories.StockItemFactory()
    made = StockMovement.objects.bulk_create(
        StockMovement(item=item, kind="received", quantity=quantity, at=timezone.now()) for quantity in (4, 5)
    )
    assert level_of(item) == 9
    StockMovement.objects.filter(pk=made[0].pk).update(item=other, quantity=3)
    assert (level_of(item), level_of(other)) == (Decimal(5), Decimal(3))
    StockMovement.objects.filter(pk=made[0].pk).delete()
    assert (level_of(item), level_of(other), what_differs()) == (Decimal(5), Decimal(0), [])


def test_a_table_made_anew_without_its_trigger_gets_it_back() -> None:
    """As a migration may leave it that runs past Django's command: the other triggers are there as before."""
    item = factories.StockItemFactory()
    batch = batch_named(item=item, number="B 7", use_by=None, by=None)
    for_postgresql = "DROP FUNCTION kept_poured() CASCADE"
    with connection.cursor() as cursor:
        cursor.execute(for_postgresql if connection.vendor == "postgresql" else "DROP TRIGGER kept_poured")
    receive(item=item, quantity=Decimal(3), by=None, batch=batch)
    assert what_differs() == ["1 batches are not the sum of their movements"]
    installing.after_migrating()
    assert (what_differs(), level_in(batch)) == ([], Decimal(3))


def test_tables_may_be_emptied_in_any_order() -> None:
    """As between tests, where Django takes the order of a set: who has gone already is not looked for."""
    full_shop("Aldermoor")
    names = sorted(connection.introspection.django_table_names(only_existing=True, include_views=False))
    first = ["workshop_customer", "workshop_ticket", "workshop_unitchanged"]
    for n in range(12):
        order = random.Random(n).sample(names, len(names))
        if n == 0:
            order.sort(key=lambda name: first.index(name) if name in first else len(first))
        with transaction.atomic(), connection.cursor() as cursor:
            for name in order:
                cursor.execute(f"DELETE FROM {connection.ops.quote_name(name)}")  # noqa: S608  names of our tables
            left = []
            for name in names:
                cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(name)}")  # noqa: S608  as above
                left += [name] if cursor.fetchone()[0] else []
            transaction.set_rollback(True)
        assert not left, f"{left} after {order}"


def test_a_visit_is_when_the_last_ticket_moved_or_the_customer_was_entered() -> None:
    customer = factories.CustomerFactory()
    assert customer.last_visit.at == customer.created_at
    early = timezone.now() - dt.timedelta(days=900)
    old = factories.TicketFactory(customer=customer, shop=customer.shop, state_since=early)
    assert LastVisit.objects.get(customer=customer).at == early
    late = early + dt.timedelta(days=20)
    Ticket.objects.filter(pk=old.pk).update(state_since=late)
    assert (LastVisit.objects.get(customer=customer).at, what_differs()) == (late, [])
    other = factories.CustomerFactory(shop=customer.shop)
    Ticket.objects.filter(pk=old.pk).update(customer=other)
    assert LastVisit.objects.get(customer=other).at == late
    assert LastVisit.objects.get(customer=customer).at == customer.created_at
    assert what_differs() == []


def test_who_is_erased_has_no_last_visit() -> None:
    customer = factories.CustomerFactory()
    erase_customer(customer=customer, by=None)
    assert not LastVisit.objects.filter(customer=customer).exists()
    assert what_differs() == []


def test_all_of_it_is_made_anew_from_the_rows() -> None:
    movement = factories.StockMovementFactory()
    factories.TicketFactory()
    installing.remove()
    factories.StockMovementFactory(item=movement.item)
    factories.TicketFactory()
    assert len(what_differs()) == 2
    installing.rebuild()
    assert (level_of(movement.item), what_differs()) == (Decimal(20), [])


def test_the_command_tells_and_mends(capsys: pytest.CaptureFixture[str]) -> None:
    item = factories.StockMovementFactory().item
    call_command("check_sums")
    assert "agrees" in capsys.readouterr().out
    with connection.cursor() as cursor:
        cursor.execute("UPDATE workshop_stocklevel SET level = 3")
    with pytest.raises(CommandError, match="1 stock levels"):
        call_command("check_sums")
    call_command("check_sums", "--mend")
    assert level_of(item) == 10
