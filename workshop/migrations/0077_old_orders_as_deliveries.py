"""Carry over what is there: each supplier that is named becomes a record, what came of an order becomes deliveries.

An order written down before counts as sent when it was written. What was booked by one person of one order with one
form, or without a mark in one minute, was one delivery; what was paid for it nobody knows, so its price stays empty.
"""

import uuid
from collections import defaultdict
from decimal import Decimal

from django.db import migrations
from django.db.models import F

_CHUNK = 500


def suppliers(apps, schema_editor):
    using = schema_editor.connection.alias
    models = {name: apps.get_model("workshop", name) for name in ("Supplier", "StockItem", "PurchaseOrder")}
    named = set()
    for name in ("StockItem", "PurchaseOrder"):
        rows = models[name].objects.using(using).exclude(supplier="").order_by()
        named |= set(rows.values_list("shop", "supplier").distinct())
    models["Supplier"].objects.using(using).bulk_create(
        [models["Supplier"](shop_id=shop, name=name) for shop, name in sorted(named)], batch_size=_CHUNK
    )


def deliveries(apps, schema_editor):
    using = schema_editor.connection.alias
    order, movement = (apps.get_model("workshop", name) for name in ("PurchaseOrder", "StockMovement"))
    delivery, delivery_line = (apps.get_model("workshop", name) for name in ("Delivery", "DeliveryLine"))
    order.objects.using(using).filter(sent_at__isnull=True).update(sent_at=F("ordered_at"))
    rows = movement.objects.using(using).filter(order_line__isnull=False, quantity__gt=0).order_by("pk")
    rows = rows.values_list("order_line__order", "order_line", "quantity", "by", "at", "sent_id")
    came = defaultdict(lambda: defaultdict(Decimal))
    first = {}
    for of_order, line, quantity, by, at, sent_id in rows.iterator(chunk_size=_CHUNK):
        key = (of_order, sent_id or (by, at.replace(second=0, microsecond=0)))
        first.setdefault(key, (by, at, sent_id or uuid.uuid4()))
        came[key][line] += quantity
    made = delivery.objects.using(using).bulk_create(
        [delivery(order_id=key[0], by_id=by, at=at, sent_id=mark) for key, (by, at, mark) in first.items()],
        batch_size=_CHUNK,
    )
    delivery_line.objects.using(using).bulk_create(
        [
            delivery_line(delivery=one, line_id=line, good=quantity)
            for one, key in zip(made, first, strict=True)
            for line, quantity in came[key].items()
        ],
        batch_size=_CHUNK,
    )


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0076_suppliers_and_deliveries"),
    ]

    operations = [
        migrations.RunPython(suppliers, migrations.RunPython.noop, elidable=False),
        migrations.RunPython(deliveries, migrations.RunPython.noop, elidable=False),
    ]
