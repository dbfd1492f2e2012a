"""Tax rates and prices with the day they hold from, what each cost as it came in, and who may set prices."""

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Case, Exists, F, OuterRef, Q, Subquery, When


def what_it_cost(apps, schema_editor):
    """Of what was bought before: as its delivery says, else its order, else what the stores said on that day."""
    kinds = ["received", "sent_back", "undone"]
    movements = apps.get_model("workshop", "StockMovement").objects.filter(kind__in=kinds, unit_cost=None)
    in_its_currency = movements.filter(
        Q(order_line__order__currency="") | Q(order_line__order__currency=F("item__shop__currency"))
    )
    delivered = apps.get_model("workshop", "DeliveryLine").objects.filter(
        line=OuterRef("order_line"), delivery__sent_id=OuterRef("sent_id"), price__isnull=False
    )
    lines = apps.get_model("workshop", "OrderLine").objects.filter(pk=OuterRef("order_line"))
    items = apps.get_model("workshop", "StockItem").objects.filter(pk=OuterRef("item"))
    changes = apps.get_model("workshop", "PriceChange").objects.filter(
        item=OuterRef("item"), what="cost", at__gt=OuterRef("at")
    )
    then = changes.order_by("pk").values("old")[:1]
    in_its_currency.filter(Exists(delivered)).update(unit_cost=Subquery(delivered.values("price")[:1]))
    in_its_currency.filter(order_line__cost__isnull=False).update(unit_cost=Subquery(lines.values("cost")[:1]))
    movements.update(
        unit_cost=Case(When(Exists(changes), then=Subquery(then)), default=Subquery(items.values("cost")[:1]))
    )


def nobody_loses_it(apps, schema_editor):
    """Whoever works here could change prices up to now; the owner takes it from whom they like."""
    apps.get_model("workshop", "User").objects.exclude(role="owner").update(sets_prices=True)


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0084_sheets_brought_in"),
    ]

    operations = [
        migrations.CreateModel(
            name="NewPrice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("what", models.CharField(choices=[("price", "Price"), ("cost", "Cost")], max_length=5)),
                ("old", models.DecimalField(decimal_places=4, max_digits=11, null=True)),
                (
                    "new",
                    models.DecimalField(
                        decimal_places=4,
                        max_digits=11,
                        null=True,
                        validators=[django.core.validators.MinValueValidator(0)],
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="PriceUpdate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("words", models.CharField(max_length=200)),
                (
                    "rounding",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        help_text="To a multiple of this; none where by hand.",
                        max_digits=6,
                        null=True,
                    ),
                ),
                ("from_on", models.DateField()),
                ("at", models.DateTimeField()),
                ("applied_at", models.DateTimeField(blank=True, null=True)),
                ("undone_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.CreateModel(
            name="TaxRate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("from_on", models.DateField()),
                (
                    "labour_percent",
                    models.DecimalField(
                        decimal_places=2,
                        max_digits=5,
                        validators=[
                            django.core.validators.MinValueValidator(0, "This cannot be below zero."),
                            django.core.validators.MaxValueValidator(100, "A tax rate is from 0 to 100 %%."),
                        ],
                    ),
                ),
                (
                    "parts_percent",
                    models.DecimalField(
                        decimal_places=2,
                        max_digits=5,
                        validators=[
                            django.core.validators.MinValueValidator(0, "This cannot be below zero."),
                            django.core.validators.MaxValueValidator(100, "A tax rate is from 0 to 100 %%."),
                        ],
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["from_on"],
            },
        ),
        migrations.AddField(
            model_name="stockmovement",
            name="unit_cost",
            field=models.DecimalField(
                blank=True,
                decimal_places=4,
                help_text="What each was bought at, as it came in or went back; none where it is not known.",
                max_digits=11,
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="user",
            name="sets_prices",
            field=models.BooleanField(default=False, help_text="Besides who may by their role: the owner allows it."),
        ),
        migrations.AddConstraint(
            model_name="stockmovement",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("unit_cost__isnull", True),
                    models.Q(("kind__in", ["received", "sent_back", "undone"]), ("unit_cost__gte", 0)),
                    _connector="OR",
                ),
                name="what_came_in_cost_nothing_less",
            ),
        ),
        migrations.AddField(
            model_name="newprice",
            name="item",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="new_prices", to="workshop.stockitem"
            ),
        ),
        migrations.AddField(
            model_name="priceupdate",
            name="by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="priceupdate",
            name="shop",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="price_updates", to="workshop.shop"
            ),
        ),
        migrations.AddField(
            model_name="priceupdate",
            name="undone_by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="newprice",
            name="update",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="workshop.priceupdate"
            ),
        ),
        migrations.AddField(
            model_name="pricechange",
            name="update",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="changes",
                to="workshop.priceupdate",
            ),
        ),
        migrations.AddField(
            model_name="taxrate",
            name="by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="taxrate",
            name="shop",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="tax_rates", to="workshop.shop"
            ),
        ),
        migrations.AddIndex(
            model_name="priceupdate",
            index=models.Index(
                condition=models.Q(("applied_at__isnull", True), ("undone_at__isnull", True)),
                fields=["shop", "from_on"],
                name="price_updates_to_come",
            ),
        ),
        migrations.AddConstraint(
            model_name="priceupdate",
            constraint=models.CheckConstraint(
                condition=models.Q(("words", ""), _negated=True), name="price_update_says_what_it_is"
            ),
        ),
        migrations.AddConstraint(
            model_name="priceupdate",
            constraint=models.CheckConstraint(
                condition=models.Q(("rounding__isnull", True), ("rounding__gt", 0), _connector="OR"),
                name="price_update_rounds_to_something",
            ),
        ),
        migrations.AddConstraint(
            model_name="newprice",
            constraint=models.UniqueConstraint(fields=("update", "item", "what"), name="one_new_price_of_an_item"),
        ),
        migrations.AddConstraint(
            model_name="newprice",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("old__isnull", True), ("old__gte", 0), _connector="OR"),
                    models.Q(("new__isnull", True), ("new__gte", 0), _connector="OR"),
                ),
                name="new_price_not_negative",
            ),
        ),
        migrations.AddConstraint(
            model_name="newprice",
            constraint=models.CheckConstraint(
                condition=models.Q(("what", "cost"), ("new__isnull", False), _connector="OR"), name="new_price_is_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="taxrate",
            constraint=models.UniqueConstraint(fields=("shop", "from_on"), name="one_tax_rate_a_day"),
        ),
        migrations.AddConstraint(
            model_name="taxrate",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("labour_percent__gte", 0),
                    ("labour_percent__lte", 100),
                    ("parts_percent__gte", 0),
                    ("parts_percent__lte", 100),
                ),
                name="dated_tax_rates_are_percent",
            ),
        ),
        migrations.RunPython(what_it_cost, migrations.RunPython.noop),
        migrations.RunPython(nobody_loses_it, migrations.RunPython.noop),
    ]
