"""Today's tables at once, for a shop that begins: the steps it replaces took a minute and more.

A shop that has some of those steps goes on by them, and comes to the same tables.
"""

import uuid
from decimal import Decimal

import django.core.serializers.json
import django.core.validators
import django.db.models.deletion
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models

import specs.migrations._tables_at_once
import specs.models.parts
import workshop.promise.models
import workshop.web.folded_field


class Migration(migrations.Migration):
    replaces = [
        ("workshop", "0002_tickets_and_stores"),
        ("workshop", "0003_booking_form_sent_once"),
        ("workshop", "0004_document_data_digest"),
        ("workshop", "0005_intervals_reminders_links_privacy"),
        ("workshop", "0006_torque_tools_and_bolts"),
        ("workshop", "0007_charges_and_agreements"),
        ("workshop", "0008_purchase_orders"),
        ("workshop", "0009_bench_capacity"),
        ("workshop", "0010_change_of_owner"),
        ("workshop", "0011_stock_item_version"),
        ("workshop", "0012_search_index"),
        ("workshop", "0013_runs_of_a_ticket_are_one_job"),
        ("workshop", "0014_second_factor"),
        ("workshop", "0015_lists_that_grow"),
        ("workshop", "0016_bolts_named_for_spring_and_damper"),
        ("workshop", "0017_kept_sums"),
        ("workshop", "0018_kept_due_list"),
        ("workshop", "0019_words_know_their_shop"),
        ("workshop", "0020_fold_letters_without_marks"),
        ("workshop", "0021_one_open_ticket_of_a_unit"),
        ("workshop", "0022_what_the_booking_heard"),
        ("workshop", "0023_finer_unit_prices"),
        ("workshop", "0024_prices_traced_and_deliveries_once"),
        ("workshop", "0025_shop_public_address"),
        ("workshop", "0026_logbook_by_keys"),
        ("workshop", "0027_logbook_words_into_keys"),
        ("workshop", "0028_rules_the_database_holds"),
        ("workshop", "0030_findings_and_their_answers"),
        ("workshop", "0031_gas_charge_of_a_damper"),
        ("workshop", "0033_air_in_the_shops_pump"),
        ("workshop", "0034_a_measured_fork"),
        ("workshop", "0036_leverage_of_a_bike"),
        ("workshop", "0038_kinds_of_unit"),
        ("workshop", "0039_read_and_signed"),
        ("workshop", "0041_photos_before_and_after"),
        ("workshop", "0042_tickets_moved_to_whom_they_belong"),
        ("workshop", "0043_removed_photos_and_marks"),
        ("workshop", "0044_merged_customers"),
        ("workshop", "0045_visits_and_their_slip"),
        ("workshop", "0050_hand_overs_payments_and_receipts"),
        ("workshop", "0056_told_about_a_ticket"),
        ("workshop", "0057_limits_as_they_were_said"),
        ("workshop", "0058_how_to_reach_a_customer"),
        ("workshop", "0060_torque_of_the_steerer_clamp"),
        ("workshop", "0061_stock_takes"),
        ("workshop", "0063_price_ceiling_of_a_visit"),
        ("workshop", "0064_one_message_for_a_visit"),
        ("workshop", "0065_credit_notes_in_part"),
        ("workshop", "0068_parts_kept_and_given"),
        ("workshop", "0072_calendars_of_mechanics"),
        ("workshop", "0073_care_of_torque_tools"),
        ("workshop", "0076_suppliers_and_deliveries"),
        ("workshop", "0077_old_orders_as_deliveries"),
        ("workshop", "0080_prices_and_tax_with_their_day"),
        ("workshop", "0081_ways_of_an_estimate"),
        ("workshop", "0082_old_parts_of_a_ticket"),
        ("workshop", "0084_sheets_brought_in"),
        ("workshop", "0085_batches_of_parts"),
        ("workshop", "0086_old_parts_answered_and_agreed"),
        ("workshop", "0087_lines_under_warranty"),
        ("workshop", "0094_setting_up_a_shop"),
        ("workshop", "0097_columns_of_sheets_and_old_numbers"),
        ("workshop", "0100_several_roles_each"),
        ("workshop", "0101_devices_and_short_codes"),
        ("workshop", "0102_pages_of_manuals"),
        ("workshop", "0103_rows_that_are_the_same"),
        ("workshop", "0104_country_of_a_shop"),
        ("workshop", "0107_sessions_listed"),
        ("workshop", "0108_security_log"),
        ("workshop", "0111_links_tried_from_an_address"),
    ]

    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
        ("diagnosis", "0021_who_wrote_a_version"),
        ("sessions", "0001_initial"),
        ("specs", "0078_values_taken_back"),
        ("workshop", "0001_people"),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="user",
            name="user_role_is_known",
        ),
        migrations.RemoveField(
            model_name="user",
            name="role",
        ),
        migrations.AddField(
            model_name="shop",
            name="country",
            field=models.CharField(blank=True, default="", max_length=2),
        ),
        migrations.AddField(
            model_name="shop",
            name="owners_need_second_factor",
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name="shop",
            name="public_address",
            field=models.CharField(blank=True, default="", max_length=200),
        ),
        migrations.AddField(
            model_name="shop",
            name="pump_hose_m3",
            field=models.FloatField(
                blank=True, help_text="Air that the pump and its hose take, in cubic metres.", null=True
            ),
        ),
        migrations.AddField(
            model_name="shop",
            name="slip_terms",
            field=models.TextField(blank=True, max_length=4000),
        ),
        migrations.AddField(
            model_name="shop",
            name="version",
            field=models.PositiveIntegerField(default=1, help_text="Of its settings."),
        ),
        migrations.AddField(
            model_name="shop",
            name="waiting_keeps_days",
            field=models.PositiveSmallIntegerField(
                blank=True,
                help_text="How long a ticket keeps its parts while it waits for the customer’s answer.",
                null=True,
                validators=[
                    django.core.validators.MinValueValidator(1, "Enter days from 1 to 365, or leave it empty."),
                    django.core.validators.MaxValueValidator(365, "Enter days from 1 to 365, or leave it empty."),
                ],
            ),
        ),
        migrations.AddField(
            model_name="user",
            name="has_sign_in_news",
            field=models.BooleanField(default=False, help_text="A sign-in from a new device was not seen yet."),
        ),
        migrations.AddField(
            model_name="user",
            name="roles",
            field=models.CharField(
                default="counter", help_text="As `together` in roles.py writes them.", max_length=60
            ),
        ),
        migrations.AddField(
            model_name="user",
            name="sets_prices",
            field=models.BooleanField(default=False, help_text="Besides who may by their role: the owner allows it."),
        ),
        migrations.AddField(
            model_name="user",
            name="version",
            field=models.PositiveIntegerField(default=1),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=models.Q(("labour_rate_hour__gte", 0)),
                name="labour_rate_not_negative",
                violation_error_message="An hour of labour cannot cost less than nothing.",
            ),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=models.Q(("pump_hose_m3__isnull", True), ("pump_hose_m3__gte", 0), _connector="OR"),
                name="pump_hose_not_negative",
                violation_error_message="A hose cannot take less air than none.",
            ),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("waiting_keeps_days__isnull", True),
                    models.Q(("waiting_keeps_days__gte", 1), ("waiting_keeps_days__lte", 365)),
                    _connector="OR",
                ),
                name="waiting_keeps_parts_within_a_year",
                violation_error_message="Enter days from 1 to 365, or leave it empty.",
            ),
        ),
        migrations.AddConstraint(
            model_name="user",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "roles__in",
                        (
                            "counter",
                            "mechanic",
                            "owner",
                            "counter mechanic",
                            "counter owner",
                            "mechanic owner",
                            "counter mechanic owner",
                        ),
                    )
                ),
                name="user_roles_are_known",
                violation_error_message="Choose one role at least, of those there are.",
            ),
        ),
        specs.migrations._tables_at_once.CreateModels(
            models=[
                migrations.CreateModel(
                    name="Customer",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="customers",
                                to="workshop.shop",
                            ),
                        ),
                        ("name", models.CharField(max_length=120)),
                        (
                            "contact_person",
                            models.CharField(blank=True, help_text="Of a company, whom to ask for.", max_length=120),
                        ),
                        ("phone", models.CharField(blank=True, max_length=40)),
                        (
                            "other_phones",
                            models.TextField(
                                blank=True, help_text="Further numbers, one a line, each with what it is."
                            ),
                        ),
                        ("email", models.EmailField(blank=True, max_length=254)),
                        ("address", models.TextField(blank=True)),
                        (
                            "preferred_contact",
                            models.CharField(
                                choices=[
                                    ("phone", "Phone"),
                                    ("message", "Text message"),
                                    ("email", "Email"),
                                    ("letter", "Letter"),
                                ],
                                default="phone",
                                max_length=10,
                            ),
                        ),
                        (
                            "language",
                            models.CharField(blank=True, help_text="What they are best spoken to in.", max_length=40),
                        ),
                        ("agreed_to_reminders", models.BooleanField(default=False)),
                        ("agreed_to_reminders_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "rider_mass_kg",
                            models.FloatField(blank=True, null=True, validators=[specs.models.parts.above_zero]),
                        ),
                        ("notes", models.TextField(blank=True)),
                        ("search_text", workshop.web.folded_field.FoldedTextField(editable=False)),
                        ("version", models.PositiveIntegerField(default=1)),
                        ("created_at", models.DateTimeField(auto_now_add=True)),
                        (
                            "created_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "merged_into",
                            models.ForeignKey(
                                blank=True,
                                editable=False,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="workshop.customer",
                            ),
                        ),
                        ("merged_at", models.DateTimeField(blank=True, editable=False, null=True)),
                        (
                            "merged_by",
                            models.ForeignKey(
                                blank=True,
                                editable=False,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("merged_because", models.CharField(blank=True, editable=False, max_length=200)),
                    ],
                    options={
                        "ordering": ["name", "pk"],
                        "indexes": [
                            models.Index(fields=["shop", "name"], name="customer_shop_name"),
                            models.Index(fields=["shop", "search_text"], name="customer_begins"),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("rider_mass_kg__isnull", True), ("rider_mass_kg__gt", 0), _connector="OR"
                                ),
                                name="rider_mass_above_zero",
                                violation_error_message="The rider's weight is above zero.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("merged_at__isnull", True), ("merged_into__isnull", True)),
                                    models.Q(
                                        ("merged_at__isnull", False),
                                        ("merged_into__isnull", False),
                                        models.Q(("merged_into", models.F("id")), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="merged_customer_says_when",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Visit",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="visits", to="workshop.shop"
                            ),
                        ),
                        ("loose", models.JSONField(blank=True, default=list)),
                        ("loose_words", models.CharField(blank=True, max_length=200)),
                        ("shelf", models.CharField(blank=True, max_length=40)),
                        (
                            "came_by",
                            models.CharField(
                                choices=[("counter", "Over the counter"), ("parcel", "By parcel")],
                                default="counter",
                                max_length=10,
                            ),
                        ),
                        ("came_carrier", models.CharField(blank=True, max_length=60)),
                        ("came_number", models.CharField(blank=True, max_length=60)),
                        (
                            "goes_by",
                            models.CharField(
                                choices=[("counter", "Over the counter"), ("parcel", "By parcel")],
                                default="counter",
                                max_length=10,
                            ),
                        ),
                        ("goes_carrier", models.CharField(blank=True, max_length=60)),
                        ("goes_number", models.CharField(blank=True, max_length=60)),
                        (
                            "price_ceiling",
                            models.DecimalField(
                                blank=True,
                                decimal_places=2,
                                help_text="What may be spent on all of it together, beside what was said of each.",
                                max_digits=9,
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0)],
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("price_ceiling__isnull", True), ("price_ceiling__gte", 0), _connector="OR"
                                ),
                                name="ceiling_of_a_visit_not_negative",
                                violation_error_message="A price ceiling cannot be below zero.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("came_by", "parcel"),
                                    models.Q(("came_by", "counter"), ("came_carrier", ""), ("came_number", "")),
                                    _connector="OR",
                                ),
                                name="only_a_parcel_came_by_a_carrier",
                                violation_error_message="Only a parcel has a carrier and a number.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("goes_by", "parcel"),
                                    models.Q(("goes_by", "counter"), ("goes_carrier", ""), ("goes_number", "")),
                                    _connector="OR",
                                ),
                                name="only_a_parcel_goes_by_a_carrier",
                                violation_error_message="Only a parcel has a carrier and a number.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="TaxRules",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="tax_rules",
                                to="workshop.shop",
                            ),
                        ),
                        ("name", models.CharField(default="VAT", max_length=20)),
                        (
                            "labour_percent",
                            models.DecimalField(
                                decimal_places=2,
                                default=Decimal("0"),
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
                                default=Decimal("0"),
                                max_digits=5,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "This cannot be below zero."),
                                    django.core.validators.MaxValueValidator(100, "A tax rate is from 0 to 100 %%."),
                                ],
                            ),
                        ),
                        ("prices_include_tax", models.BooleanField(default=False)),
                        (
                            "rounding",
                            models.CharField(
                                choices=[("sum", "on the sum of each rate"), ("line", "on each line")],
                                default="sum",
                                max_length=4,
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("labour_percent__gte", 0),
                                    ("labour_percent__lte", 100),
                                    ("parts_percent__gte", 0),
                                    ("parts_percent__lte", 100),
                                ),
                                name="tax_rates_are_percent",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="TaxRate",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="tax_rates",
                                to="workshop.shop",
                            ),
                        ),
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
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["from_on"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "from_on"), name="one_tax_rate_a_day"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("labour_percent__gte", 0),
                                    ("labour_percent__lte", 100),
                                    ("parts_percent__gte", 0),
                                    ("parts_percent__lte", 100),
                                ),
                                name="dated_tax_rates_are_percent",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ServicePrice",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="service_prices",
                                to="workshop.shop",
                            ),
                        ),
                        ("kind", models.CharField(choices=[("fork", "Fork"), ("shock", "Shock")], max_length=5)),
                        (
                            "level",
                            models.CharField(
                                choices=[
                                    ("lowers", "Lowers service"),
                                    ("spring", "Spring service"),
                                    ("full", "Full service"),
                                ],
                                max_length=10,
                            ),
                        ),
                        (
                            "price",
                            models.DecimalField(
                                decimal_places=2,
                                max_digits=9,
                                validators=[django.core.validators.MinValueValidator(0, "This cannot be below zero.")],
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["kind", "pk"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "kind", "level"), name="one_price_of_a_service"),
                            models.CheckConstraint(
                                condition=models.Q(("price__gte", 0)), name="service_price_not_negative"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="RetentionPolicy",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="retention_policy",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "years",
                            models.PositiveSmallIntegerField(
                                blank=True,
                                null=True,
                                validators=[
                                    django.core.validators.MinValueValidator(1),
                                    django.core.validators.MaxValueValidator(30),
                                ],
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("years__isnull", True),
                                    models.Q(("years__gte", 1), ("years__lte", 30)),
                                    _connector="OR",
                                ),
                                name="retention_from_one_to_thirty_years",
                                violation_error_message="Enter from 1 to 30 years, or nothing.",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="IntervalPolicy",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="interval_policy",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "wet_factor",
                            models.FloatField(
                                default=0.75,
                                validators=[
                                    django.core.validators.MinValueValidator(0.2),
                                    django.core.validators.MaxValueValidator(1.0),
                                ],
                            ),
                        ),
                        (
                            "dusty_factor",
                            models.FloatField(
                                default=0.75,
                                validators=[
                                    django.core.validators.MinValueValidator(0.2),
                                    django.core.validators.MaxValueValidator(1.0),
                                ],
                            ),
                        ),
                        (
                            "said_hours_spread",
                            models.FloatField(
                                default=0.25,
                                help_text="How far off a weekly figure may be, as a fraction; it makes the range of a forecast.",
                                validators=[
                                    django.core.validators.MinValueValidator(0.0),
                                    django.core.validators.MaxValueValidator(0.8),
                                ],
                            ),
                        ),
                        (
                            "coming_up_days",
                            models.PositiveSmallIntegerField(
                                default=42,
                                validators=[
                                    django.core.validators.MinValueValidator(1),
                                    django.core.validators.MaxValueValidator(365),
                                ],
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("dusty_factor__gte", 0.2),
                                    ("dusty_factor__lte", 1),
                                    ("wet_factor__gte", 0.2),
                                    ("wet_factor__lte", 1),
                                ),
                                name="riding_factors_shorten",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("said_hours_spread__gte", 0), ("said_hours_spread__lte", 0.8)),
                                name="spread_is_a_fraction",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("coming_up_days__gte", 1), ("coming_up_days__lte", 365)),
                                name="coming_up_within_a_year",
                                violation_error_message="Enter from 1 to 365 days.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="WrongLink",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        ("from_where", models.CharField(help_text="Keyed digest of the address.", max_length=64)),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [models.Index(fields=["from_where", "at"], name="wrong_links_from_somewhere")],
                    },
                ),
                migrations.CreateModel(
                    name="ManualPage",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="manual_pages",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "model",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="specs.suspensionmodel",
                            ),
                        ),
                        ("document", models.CharField(max_length=160)),
                        ("revision", models.CharField(blank=True, max_length=40)),
                        ("page", models.CharField(blank=True, max_length=40)),
                        ("file", models.FileField(max_length=160, upload_to="")),
                        ("kind", models.CharField(choices=[("pdf", "PDF"), ("jpg", "Picture")], max_length=3)),
                        ("pages", models.PositiveSmallIntegerField(default=1)),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["document", "revision", "pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("shop", "model", "file"),
                                name="manual_page_attached_once",
                                violation_error_message="This very file is attached to the model already.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("document", ""), _negated=True), models.Q(("file", ""), _negated=True)
                                ),
                                name="manual_page_says_what_it_is_of",
                                violation_error_message="Name the manual that the page is of.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("pages__gte", 1)), name="manual_page_has_a_page"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="BenchCapacity",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="bench_capacity",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "mechanics",
                            models.PositiveSmallIntegerField(
                                default=1,
                                validators=[
                                    django.core.validators.MinValueValidator(
                                        1, "At least one mechanic works at the bench."
                                    ),
                                    django.core.validators.MaxValueValidator(50),
                                ],
                            ),
                        ),
                        (
                            "hours_a_day",
                            models.DecimalField(
                                decimal_places=2,
                                default=Decimal("6"),
                                help_text="Of one mechanic, at the bench.",
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(
                                        Decimal("0.25"), "Enter the hours of a day, from 0.25 to 24."
                                    ),
                                    django.core.validators.MaxValueValidator(
                                        24, "Enter the hours of a day, from 0.25 to 24."
                                    ),
                                ],
                            ),
                        ),
                        ("closed_weekdays", models.JSONField(blank=True, default=workshop.promise.models.weekend)),
                        (
                            "usual_minutes",
                            models.PositiveSmallIntegerField(
                                default=90,
                                help_text="For a ticket that no checklist tells the minutes of.",
                                validators=[django.core.validators.MinValueValidator(1)],
                            ),
                        ),
                        (
                            "unknown_lead_days",
                            models.PositiveSmallIntegerField(
                                default=7,
                                help_text="For a part whose days to deliver nobody entered.",
                                validators=[django.core.validators.MaxValueValidator(365)],
                            ),
                        ),
                        ("holiday_country", models.CharField(blank=True, default="", max_length=3)),
                        ("holiday_subdivision", models.CharField(blank=True, default="", max_length=40)),
                        (
                            "has_calendars",
                            models.BooleanField(
                                default=False,
                                help_text="Somebody’s week is on record; without it no page asks for weeks.",
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("hours_a_day__gt", 0), ("hours_a_day__lte", 24), ("mechanics__gte", 1)
                                ),
                                name="bench_works_some_hours",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("mechanics__lte", 50), ("unknown_lead_days__lte", 365), ("usual_minutes__gte", 1)
                                ),
                                name="bench_reckons_within_reason",
                                violation_error_message="Enter 50 mechanics at most, a minute at least for a ticket, and 365 days at most for a part.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("holiday_subdivision", ""),
                                    models.Q(("holiday_country", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="holiday_subdivision_of_a_country",
                                violation_error_message="Choose the country of that part first.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ClosedDay",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="closed_days",
                                to="workshop.shop",
                            ),
                        ),
                        ("day", models.DateField()),
                        ("why", models.CharField(blank=True, max_length=60)),
                        ("struck", models.BooleanField(default=False)),
                    ],
                    options={
                        "ordering": ["day"],
                        "constraints": [models.UniqueConstraint(fields=("shop", "day"), name="day_closed_once")],
                    },
                ),
                migrations.CreateModel(
                    name="MechanicWeek",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "mechanic",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="bench_week",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "monday",
                            models.DecimalField(
                                decimal_places=2,
                                default=0,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "Enter hours from 0 to 24."),
                                    django.core.validators.MaxValueValidator(24, "Enter hours from 0 to 24."),
                                ],
                            ),
                        ),
                        (
                            "tuesday",
                            models.DecimalField(
                                decimal_places=2,
                                default=0,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "Enter hours from 0 to 24."),
                                    django.core.validators.MaxValueValidator(24, "Enter hours from 0 to 24."),
                                ],
                            ),
                        ),
                        (
                            "wednesday",
                            models.DecimalField(
                                decimal_places=2,
                                default=0,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "Enter hours from 0 to 24."),
                                    django.core.validators.MaxValueValidator(24, "Enter hours from 0 to 24."),
                                ],
                            ),
                        ),
                        (
                            "thursday",
                            models.DecimalField(
                                decimal_places=2,
                                default=0,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "Enter hours from 0 to 24."),
                                    django.core.validators.MaxValueValidator(24, "Enter hours from 0 to 24."),
                                ],
                            ),
                        ),
                        (
                            "friday",
                            models.DecimalField(
                                decimal_places=2,
                                default=0,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "Enter hours from 0 to 24."),
                                    django.core.validators.MaxValueValidator(24, "Enter hours from 0 to 24."),
                                ],
                            ),
                        ),
                        (
                            "saturday",
                            models.DecimalField(
                                decimal_places=2,
                                default=0,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "Enter hours from 0 to 24."),
                                    django.core.validators.MaxValueValidator(24, "Enter hours from 0 to 24."),
                                ],
                            ),
                        ),
                        (
                            "sunday",
                            models.DecimalField(
                                decimal_places=2,
                                default=0,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "Enter hours from 0 to 24."),
                                    django.core.validators.MaxValueValidator(24, "Enter hours from 0 to 24."),
                                ],
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("monday__gte", 0),
                                    ("monday__lte", 24),
                                    ("tuesday__gte", 0),
                                    ("tuesday__lte", 24),
                                    ("wednesday__gte", 0),
                                    ("wednesday__lte", 24),
                                    ("thursday__gte", 0),
                                    ("thursday__lte", 24),
                                    ("friday__gte", 0),
                                    ("friday__lte", 24),
                                    ("saturday__gte", 0),
                                    ("saturday__lte", 24),
                                    ("sunday__gte", 0),
                                    ("sunday__lte", 24),
                                ),
                                name="mechanic_works_within_a_day",
                                violation_error_message="Enter hours from 0 to 24.",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Absence",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "mechanic",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="absences",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[("holiday", "Holiday"), ("illness", "Illness"), ("other", "Other")],
                                default="holiday",
                                max_length=8,
                            ),
                        ),
                        ("first", models.DateField()),
                        ("last", models.DateField()),
                        ("half", models.BooleanField(default=False, help_text="Half the hours of each of these days.")),
                        ("reason", models.CharField(blank=True, max_length=120)),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["first", "pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("last__gte", models.F("first"))),
                                name="absence_ends_after_it_began",
                                violation_error_message="It cannot end before it begins.",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="OpeningHours",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="opening_hours",
                                to="workshop.shop",
                            ),
                        ),
                        ("weekday", models.PositiveSmallIntegerField()),
                        ("opens", models.TimeField()),
                        ("closes", models.TimeField()),
                    ],
                    options={
                        "ordering": ["weekday", "opens"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "weekday", "opens"), name="opens_once_at_a_time"),
                            models.CheckConstraint(
                                condition=models.Q(("weekday__lte", 6)), name="opening_weekday_is_known"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="MailSettings",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="mail_settings",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "by_server",
                            models.BooleanField(
                                default=False, help_text="A letter to try what the server's environment sets."
                            ),
                        ),
                        ("host", models.CharField(blank=True, max_length=253)),
                        ("port", models.PositiveIntegerField(default=587)),
                        (
                            "security",
                            models.CharField(
                                choices=[
                                    ("starttls", "STARTTLS (usual, port 587)"),
                                    ("tls", "TLS from the start (port 465)"),
                                    ("none", "None (a server on this machine only)"),
                                ],
                                default="starttls",
                                max_length=8,
                            ),
                        ),
                        ("username", models.CharField(blank=True, max_length=254)),
                        ("password_sealed", models.TextField(blank=True, editable=False)),
                        (
                            "sender",
                            models.EmailField(blank=True, help_text="Empty: the shop's own address.", max_length=254),
                        ),
                        ("letter_to", models.EmailField(max_length=254)),
                        ("code", models.CharField(help_text="What stands in the test letter.", max_length=6)),
                        (
                            "instead_of",
                            models.BigIntegerField(
                                blank=True, help_text="Key of the settings kept when it was tried.", null=True
                            ),
                        ),
                        ("sent_at", models.DateTimeField()),
                        (
                            "sent_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("arrived_at", models.DateTimeField(blank=True, null=True)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("arrived_at__isnull", False)),
                                fields=("shop", "by_server"),
                                name="one_mail_server_in_use",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("port__gte", 1), ("port__lte", 65535)),
                                name="mail_port_is_one",
                                violation_error_message="Enter a port from 1 to 65535.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="PurchaseOrder",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="purchase_orders",
                                to="workshop.shop",
                            ),
                        ),
                        ("number", models.PositiveIntegerField()),
                        ("supplier", models.CharField(max_length=80)),
                        ("note", models.CharField(blank=True, max_length=120)),
                        (
                            "expected_on",
                            models.DateField(
                                blank=True, help_text="From the longest lead time of its lines.", null=True
                            ),
                        ),
                        ("ordered_at", models.DateTimeField()),
                        (
                            "ordered_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "currency",
                            models.CharField(
                                blank=True, help_text="Of its prices; empty is the shop's own.", max_length=3
                            ),
                        ),
                        (
                            "sent_at",
                            models.DateTimeField(
                                blank=True, help_text="When somebody said that it went to the supplier.", null=True
                            ),
                        ),
                        ("closed_at", models.DateTimeField(blank=True, null=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "ordering": ["-number"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "number"), name="order_number_once_in_a_shop")
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ReminderText",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="reminder_text",
                                to="workshop.shop",
                            ),
                        ),
                        ("subject", models.CharField(max_length=150)),
                        ("body", models.TextField()),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                ),
                migrations.CreateModel(
                    name="ReadyText",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="ready_text",
                                to="workshop.shop",
                            ),
                        ),
                        ("subject", models.CharField(max_length=150)),
                        ("body", models.TextField()),
                        ("text", models.TextField(help_text="The text message.")),
                        ("unreached_days", models.PositiveSmallIntegerField(default=3)),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("unreached_days__gte", 1), ("unreached_days__lte", 60)),
                                name="unreached_from_one_to_sixty_days",
                                violation_error_message="Enter days from 1 to 60.",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Sheet",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="workshop.shop"
                            ),
                        ),
                        ("kind", models.CharField(max_length=20)),
                        ("name", models.CharField(help_text="The file, as it was called.", max_length=120)),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("matching", "Not matched yet"),
                                    ("looking", "Being looked at"),
                                    ("looked", "Looked at"),
                                    ("importing", "Being imported"),
                                    ("stopped", "Stopped"),
                                    ("imported", "Imported"),
                                    ("taking_back", "Being taken back"),
                                    ("taken_back", "Taken back"),
                                ],
                                default="looking",
                                max_length=12,
                            ),
                        ),
                        ("rows_in_all", models.PositiveIntegerField()),
                        ("handled", models.PositiveIntegerField(default=0)),
                        ("with_counts", models.BooleanField(default=False)),
                        (
                            "heads",
                            models.JSONField(default=list, help_text="Of the file's columns, as they stand in it."),
                        ),
                        (
                            "matching",
                            models.JSONField(
                                default=list, help_text="Which column of the layout each of them is; empty: left out."
                            ),
                        ),
                        (
                            "decimal_sign",
                            models.CharField(
                                blank=True, help_text="Of its numbers; empty: each as it stands.", max_length=1
                            ),
                        ),
                        (
                            "notes",
                            models.JSONField(
                                default=list, help_text="What a person has to know of how the file was read."
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "imported_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("imported_at", models.DateTimeField(null=True)),
                    ],
                    options={
                        "ordering": ["-pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("handled__lte", models.F("rows_in_all"))),
                                name="sheet_handles_no_more_than_it_has",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="OldNumber",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="workshop.shop"
                            ),
                        ),
                        (
                            "thing",
                            models.CharField(
                                choices=[("customer", "Customer"), ("bike", "Bike"), ("unit", "Fork or shock")],
                                max_length=10,
                            ),
                        ),
                        ("number", models.CharField(max_length=60)),
                        ("record", models.PositiveBigIntegerField(help_text="The key of the customer, bike or unit.")),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [models.Index(fields=["shop", "thing", "record"], name="old_numbers_of_a_record")],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("shop", "thing", "number"), name="old_number_names_one_record"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("number", ""), _negated=True), name="old_number_says_something"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ChecklistSignature",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="checklist_signatures",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "checklist",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="diagnosis.checklist"
                            ),
                        ),
                        ("wording", models.PositiveIntegerField()),
                        ("words", models.JSONField(default=dict)),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("signed_at", models.DateTimeField()),
                        ("as_author", models.BooleanField(default=False)),
                        ("taken_back_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "taken_back_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("taken_back_why", models.CharField(blank=True, max_length=400)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("taken_back_at__isnull", True)),
                                fields=("shop", "checklist", "wording", "by"),
                                name="a_version_signed_once_by_each",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("taken_back_at__isnull", True),
                                        ("taken_back_by__isnull", True),
                                        ("taken_back_why", ""),
                                    ),
                                    models.Q(
                                        ("taken_back_at__isnull", False),
                                        ("taken_back_by__isnull", False),
                                        models.Q(("taken_back_why", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="signature_taken_back_by_whom_and_why",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Device",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="devices", to="workshop.shop"
                            ),
                        ),
                        ("name", models.CharField(max_length=60)),
                        (
                            "digest",
                            models.CharField(
                                help_text="SHA-256 of the secret in the device's cookie.", max_length=64, unique=True
                            ),
                        ),
                        (
                            "let_in_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("let_in_at", models.DateTimeField()),
                        ("last_used_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "ended_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("ended_at", models.DateTimeField(blank=True, null=True)),
                    ],
                    options={
                        "ordering": ["-pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("ended_at__isnull", True)),
                                fields=("shop", "name"),
                                name="device_named_once",
                                violation_error_message="There is a device of that name already. Choose another.",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="QuickCode",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "user",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="quick_code",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("hashed", models.CharField(max_length=200)),
                        ("set_at", models.DateTimeField()),
                    ],
                ),
                migrations.CreateModel(
                    name="SetUpGuide",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="set_up_guide",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "later",
                            models.JSONField(
                                blank=True, default=list, help_text="Keys of the steps that were left for later."
                            ),
                        ),
                        ("left_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "device_seen_at",
                            models.DateTimeField(
                                blank=True,
                                help_text="When a device other than the server first signed in over HTTPS.",
                                null=True,
                            ),
                        ),
                    ],
                ),
                migrations.CreateModel(
                    name="SecondFactor",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "user",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="second_factor",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "secret",
                            models.CharField(
                                help_text="Base 32. It must be readable, to compute the codes.", max_length=64
                            ),
                        ),
                        (
                            "last_step",
                            models.PositiveBigIntegerField(default=0, help_text="The newest step whose code was used."),
                        ),
                        ("wrong_tries", models.PositiveSmallIntegerField(default=0)),
                        ("wait_until", models.DateTimeField(blank=True, null=True)),
                        ("set_up_at", models.DateTimeField()),
                    ],
                ),
                migrations.CreateModel(
                    name="SecurityEvent",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="security_events",
                                to="workshop.shop",
                            ),
                        ),
                        ("number", models.PositiveIntegerField(help_text="Of this shop, from 1 without a gap.")),
                        ("at", models.DateTimeField()),
                        ("kind", models.CharField(max_length=40)),
                        (
                            "by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "by_name",
                            models.CharField(blank=True, help_text="The sign-in name at that time.", max_length=150),
                        ),
                        ("address", models.CharField(blank=True, max_length=64)),
                        ("browser", models.CharField(blank=True, max_length=80)),
                        (
                            "values",
                            models.JSONField(default=dict, encoder=django.core.serializers.json.DjangoJSONEncoder),
                        ),
                        (
                            "before",
                            models.CharField(
                                blank=True, help_text="The digest of the row before; empty in the first.", max_length=64
                            ),
                        ),
                        (
                            "digest",
                            models.CharField(help_text="SHA-256 of the row before and of this row.", max_length=64),
                        ),
                    ],
                    options={
                        "ordering": ["-number"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "number"), name="security_event_numbered_once")
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="KnownBrowser",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "user",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="known_browsers",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "digest",
                            models.CharField(help_text="SHA-256 of the secret in the browser's cookie.", max_length=64),
                        ),
                        ("browser", models.CharField(blank=True, max_length=80)),
                        ("address", models.CharField(blank=True, max_length=64)),
                        ("first_at", models.DateTimeField()),
                        (
                            "to_be_told",
                            models.BooleanField(default=False, help_text="Its person has not seen yet that it is new."),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [models.UniqueConstraint(fields=("user", "digest"), name="browser_known_once")],
                    },
                ),
                migrations.CreateModel(
                    name="StockItem",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="stock_items",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "part",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="stock_items", to="specs.part"
                            ),
                        ),
                        (
                            "price",
                            models.DecimalField(
                                decimal_places=4,
                                help_text="Each piece, or each ml.",
                                max_digits=11,
                                validators=[django.core.validators.MinValueValidator(0)],
                            ),
                        ),
                        (
                            "cost",
                            models.DecimalField(
                                blank=True,
                                decimal_places=4,
                                max_digits=11,
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0)],
                            ),
                        ),
                        ("shelf", models.CharField(blank=True, max_length=40)),
                        ("supplier", models.CharField(blank=True, max_length=80)),
                        (
                            "lead_days",
                            models.PositiveSmallIntegerField(
                                blank=True, null=True, validators=[django.core.validators.MaxValueValidator(365)]
                            ),
                        ),
                        (
                            "reorder_level",
                            models.DecimalField(
                                decimal_places=2,
                                default=Decimal("0"),
                                max_digits=9,
                                validators=[django.core.validators.MinValueValidator(0)],
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "ordering": ["part__number"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "part"), name="part_once_in_a_shop"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("price__gte", 0),
                                    ("reorder_level__gte", 0),
                                    models.Q(("cost__isnull", True), ("cost__gte", 0), _connector="OR"),
                                ),
                                name="stock_item_asks_nothing_below_zero",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("lead_days__isnull", True), ("lead_days__lte", 365), _connector="OR"
                                ),
                                name="lead_days_within_a_year",
                                violation_error_message="Enter a year at most for the days to deliver.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="PriceUpdate",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="price_updates",
                                to="workshop.shop",
                            ),
                        ),
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
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("applied_at", models.DateTimeField(blank=True, null=True)),
                        ("undone_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "undone_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-pk"],
                        "indexes": [
                            models.Index(
                                condition=models.Q(("applied_at__isnull", True), ("undone_at__isnull", True)),
                                fields=["shop", "from_on"],
                                name="price_updates_to_come",
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("words", ""), _negated=True), name="price_update_says_what_it_is"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("rounding__isnull", True), ("rounding__gt", 0), _connector="OR"),
                                name="price_update_rounds_to_something",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="StockTake",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="stock_takes",
                                to="workshop.shop",
                            ),
                        ),
                        ("number", models.PositiveIntegerField()),
                        (
                            "shelf",
                            models.CharField(
                                blank=True, help_text="How its places begin; empty for all of them.", max_length=40
                            ),
                        ),
                        (
                            "blind",
                            models.BooleanField(
                                default=False, help_text="Whoever counts does not see what should be there."
                            ),
                        ),
                        (
                            "by_two",
                            models.BooleanField(
                                default=False, help_text="A count holds once a second person counted the same."
                            ),
                        ),
                        (
                            "state",
                            models.CharField(
                                choices=[("counting", "Counting"), ("booked", "Booked"), ("given_up", "Given up")],
                                default="counting",
                                max_length=8,
                            ),
                        ),
                        (
                            "reason",
                            models.CharField(
                                blank=True, help_text="Why it differed, or why it was given up.", max_length=80
                            ),
                        ),
                        (
                            "started_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("started_at", models.DateTimeField()),
                        (
                            "ended_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("ended_at", models.DateTimeField(blank=True, null=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "ordering": ["-number"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "number"), name="stock_take_number_once_in_a_shop"),
                            models.UniqueConstraint(
                                condition=models.Q(("state", "counting")),
                                fields=("shop", "shelf"),
                                name="one_open_stock_take_of_a_shelf",
                                violation_error_message="These shelves are being counted already.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("ended_at__isnull", True), ("state", "counting")),
                                    models.Q(("ended_at__isnull", False), ("state__in", ["booked", "given_up"])),
                                    _connector="OR",
                                ),
                                name="stock_take_that_ended_says_when",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Supplier",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="suppliers",
                                to="workshop.shop",
                            ),
                        ),
                        ("name", models.CharField(max_length=80)),
                        ("address", models.TextField(blank=True, max_length=400)),
                        ("account", models.CharField(blank=True, help_text="The shop's number there.", max_length=40)),
                        ("terms", models.CharField(blank=True, max_length=120)),
                        (
                            "currency",
                            models.CharField(
                                blank=True,
                                help_text="Of its prices; empty is the shop's own.",
                                max_length=3,
                                validators=[
                                    django.core.validators.RegexValidator(
                                        "\\A[A-Z]{3}\\Z", "Enter the three letters of a currency, such as EUR."
                                    )
                                ],
                            ),
                        ),
                        ("email", models.EmailField(blank=True, max_length=254)),
                        (
                            "usual_days",
                            models.PositiveSmallIntegerField(
                                blank=True,
                                help_text="To deliver, set by hand until deliveries say it.",
                                null=True,
                                validators=[django.core.validators.MaxValueValidator(365)],
                            ),
                        ),
                        ("archived_at", models.DateTimeField(blank=True, null=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "ordering": ["name"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "name"), name="supplier_once_in_a_shop"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("usual_days__isnull", True), ("usual_days__lte", 365), _connector="OR"
                                ),
                                name="usual_days_within_a_year",
                                violation_error_message="Enter a year at most for the days to deliver.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("name", ""), _negated=True), name="supplier_has_a_name"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ReceiptSettings",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="receipt_settings",
                                to="workshop.shop",
                            ),
                        ),
                        ("tax_number", models.CharField(blank=True, max_length=40)),
                        ("registration_number", models.CharField(blank=True, max_length=60)),
                        ("foot", models.CharField(blank=True, max_length=200)),
                        (
                            "logo",
                            models.TextField(
                                blank=True, editable=False, help_text="A PNG of ours, as an address that holds it."
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                ),
                migrations.CreateModel(
                    name="ReceiptSeries",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="receipt_series",
                                to="workshop.shop",
                            ),
                        ),
                        ("kind", models.CharField(max_length=7)),
                        ("year", models.PositiveSmallIntegerField()),
                        ("last", models.PositiveIntegerField(default=0)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "kind", "year"), name="one_series_of_a_year")
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="DrawerCount",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="drawer_counts",
                                to="workshop.shop",
                            ),
                        ),
                        ("day", models.DateField()),
                        ("revision", models.PositiveSmallIntegerField()),
                        ("currency", models.CharField(max_length=3)),
                        (
                            "opening",
                            models.DecimalField(
                                decimal_places=2, help_text="In the drawer when the day began.", max_digits=10
                            ),
                        ),
                        (
                            "cash",
                            models.DecimalField(
                                decimal_places=2, help_text="Cash taken less cash paid back that day.", max_digits=10
                            ),
                        ),
                        (
                            "expected",
                            models.DecimalField(decimal_places=2, help_text="Opening and cash.", max_digits=10),
                        ),
                        ("counted", models.DecimalField(decimal_places=2, max_digits=10)),
                        (
                            "taken_out",
                            models.DecimalField(
                                decimal_places=2, help_text="To the bank; the rest stays.", max_digits=10
                            ),
                        ),
                        ("reason", models.CharField(blank=True, max_length=200)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["day", "revision"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("shop", "day", "revision"), name="drawer_counts_are_numbered"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("counted", models.F("expected")),
                                    models.Q(("reason", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="difference_in_the_drawer_has_a_reason",
                                violation_error_message="Say why the drawer does not agree.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("counted__gte", 0),
                                    ("opening__gte", 0),
                                    ("taken_out__gte", 0),
                                    ("taken_out__lte", models.F("counted")),
                                ),
                                name="drawer_holds_no_less_than_nothing",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="TorqueTool",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="torque_tools",
                                to="workshop.shop",
                            ),
                        ),
                        ("number", models.CharField(help_text="As written on the tool.", max_length=30)),
                        ("name", models.CharField(max_length=80)),
                        ("low_nm", models.FloatField()),
                        ("high_nm", models.FloatField()),
                        (
                            "tool_class",
                            models.CharField(
                                choices=[
                                    ("I-A", "I A: bar that bends"),
                                    ("I-B", "I B: wrench with a dial"),
                                    ("I-C", "I C: electronic wrench"),
                                    ("I-E", "I E: electronic screwdriver"),
                                    ("II-A", "II A: setting wrench with a scale"),
                                    ("II-B", "II B: setting wrench, fixed"),
                                    ("II-D", "II D: setting screwdriver with a scale"),
                                    ("II-E", "II E: setting screwdriver, fixed"),
                                ],
                                default="II-A",
                                max_length=5,
                            ),
                        ),
                        ("calibrated_on", models.DateField(blank=True, null=True)),
                        ("calibrated_until", models.DateField(blank=True, null=True)),
                        (
                            "outside_by",
                            models.CharField(
                                blank=True,
                                choices=[("calibration", "last calibration"), ("check", "last check")],
                                default="",
                                max_length=11,
                            ),
                        ),
                        ("retired", models.BooleanField(default=False)),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "ordering": ["retired", "number"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("shop", "number"),
                                name="torque_tool_number_once_in_a_shop",
                                violation_error_message="The shop has a torque tool of that number already.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("low_nm__gt", 0), ("high_nm__gt", models.F("low_nm"))),
                                name="torque_tool_range_in_order",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("calibrated_until__isnull", True),
                                    ("calibrated_on__isnull", True),
                                    ("calibrated_until__gte", models.F("calibrated_on")),
                                    _connector="OR",
                                ),
                                name="calibration_ends_after_it_began",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Bike",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "customer",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="bikes",
                                to="workshop.customer",
                            ),
                        ),
                        (
                            "description",
                            models.CharField(
                                help_text="Maker, model and colour, as you would call it.", max_length=120
                            ),
                        ),
                        ("frame_number", models.CharField(blank=True, max_length=60)),
                        ("leverage", models.FloatField(blank=True, null=True)),
                        (
                            "leverage_source",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("maker", "The frame maker’s papers"),
                                    ("measured", "Wheel travel and stroke, measured on this bike"),
                                    ("told", "The customer’s word"),
                                ],
                                max_length=10,
                            ),
                        ),
                        (
                            "leverage_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("leverage_at", models.DateTimeField(blank=True, null=True)),
                        ("notes", models.TextField(blank=True)),
                        ("search_text", workshop.web.folded_field.FoldedTextField(editable=False)),
                        ("version", models.PositiveIntegerField(default=1)),
                        ("created_at", models.DateTimeField(auto_now_add=True)),
                    ],
                    options={
                        "ordering": ["description", "pk"],
                        "indexes": [models.Index(fields=["search_text"], name="bike_begins")],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("leverage__isnull", True),
                                    models.Q(("leverage__gte", 1.0), ("leverage__lte", 4.5)),
                                    _connector="OR",
                                ),
                                name="bike_leverage_possible",
                                violation_error_message="The leverage of a rear shock lies between 1 and 4.5.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("leverage__isnull", True),
                                        ("leverage_at__isnull", True),
                                        ("leverage_source", ""),
                                    ),
                                    models.Q(
                                        ("leverage__isnull", False),
                                        ("leverage_at__isnull", False),
                                        models.Q(("leverage_source", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="bike_leverage_has_a_source",
                                violation_error_message="A leverage says where it is from.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SuspensionUnit",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="units", to="workshop.shop"
                            ),
                        ),
                        (
                            "customer",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="units",
                                to="workshop.customer",
                            ),
                        ),
                        (
                            "model",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="units",
                                to="specs.suspensionmodel",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[("fork", "fork"), ("shock", "rear shock")], default="fork", max_length=10
                            ),
                        ),
                        (
                            "described_as",
                            models.CharField(
                                blank=True,
                                help_text="Maker and model in words, where the model is not in the list.",
                                max_length=120,
                            ),
                        ),
                        ("serial", models.CharField(blank=True, max_length=60)),
                        (
                            "travel_m",
                            models.FloatField(blank=True, null=True, validators=[specs.models.parts.above_zero]),
                        ),
                        (
                            "spring_kind",
                            models.CharField(
                                blank=True,
                                choices=[("air", "air"), ("coil", "coil"), ("air_coil", "coil with air assist")],
                                max_length=10,
                            ),
                        ),
                        (
                            "air_side",
                            models.CharField(
                                blank=True, choices=[("left", "left leg"), ("right", "right leg")], max_length=10
                            ),
                        ),
                        (
                            "damper_kind",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("sealed_cartridge", "sealed cartridge"),
                                    ("open_bath", "open bath"),
                                    ("closed_bladder", "closed with a bladder"),
                                ],
                                max_length=20,
                            ),
                        ),
                        (
                            "crowns",
                            models.CharField(
                                blank=True, choices=[("single", "single crown"), ("twin", "twin crown")], max_length=10
                            ),
                        ),
                        (
                            "inverted",
                            models.CharField(blank=True, choices=[("True", "yes"), ("False", "no")], max_length=5),
                        ),
                        (
                            "ramp_chamber",
                            models.CharField(blank=True, choices=[("True", "yes"), ("False", "no")], max_length=5),
                        ),
                        (
                            "gas_charge",
                            models.CharField(
                                blank=True,
                                choices=[("True", "yes"), ("False", "no")],
                                help_text="Gas behind a piston or bladder of the damper. Left empty it counts as charged.",
                                max_length=5,
                            ),
                        ),
                        ("notes", models.TextField(blank=True)),
                        ("measured", models.JSONField(blank=True, editable=False, null=True)),
                        ("search_text", workshop.web.folded_field.FoldedTextField(editable=False)),
                        ("version", models.PositiveIntegerField(default=1)),
                        ("created_at", models.DateTimeField(auto_now_add=True)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [
                            models.Index(fields=["serial"], name="unit_serial"),
                            models.Index(fields=["shop", "search_text"], name="unit_begins"),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("travel_m__isnull", True), ("travel_m__gt", 0), _connector="OR"),
                                name="unit_travel_above_zero",
                                violation_error_message="A travel is above zero.",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Erasure",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "customer",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="erasure",
                                to="workshop.customer",
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("reason", models.CharField(blank=True, max_length=160)),
                        ("documents_removed", models.PositiveIntegerField(default=0)),
                        ("photos_removed", models.PositiveIntegerField(default=0)),
                        ("files_to_remove", models.JSONField(blank=True, default=list)),
                    ],
                    options={
                        "ordering": ["-pk"],
                    },
                ),
                migrations.CreateModel(
                    name="LastVisit",
                    fields=[
                        (
                            "customer",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                primary_key=True,
                                related_name="last_visit",
                                serialize=False,
                                to="workshop.customer",
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                db_index=False,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="workshop.shop",
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "indexes": [models.Index(fields=["shop", "at", "customer"], name="last_visit_oldest")],
                    },
                ),
                migrations.CreateModel(
                    name="OrderLine",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "order",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="lines",
                                to="workshop.purchaseorder",
                            ),
                        ),
                        (
                            "item",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="order_lines",
                                to="workshop.stockitem",
                            ),
                        ),
                        ("supplier_number", models.CharField(blank=True, max_length=60)),
                        ("ordered", models.DecimalField(decimal_places=2, max_digits=9)),
                        (
                            "cost",
                            models.DecimalField(
                                blank=True,
                                decimal_places=4,
                                max_digits=11,
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0)],
                            ),
                        ),
                        (
                            "pack",
                            models.DecimalField(
                                decimal_places=2, default=Decimal("1"), help_text="Bought by so many.", max_digits=9
                            ),
                        ),
                        (
                            "pack_price",
                            models.DecimalField(
                                blank=True,
                                decimal_places=4,
                                max_digits=11,
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0)],
                            ),
                        ),
                        (
                            "expected_on",
                            models.DateField(
                                blank=True, help_text="Where it is another day than the order's.", null=True
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(fields=("order", "item"), name="item_once_in_an_order"),
                            models.CheckConstraint(
                                condition=models.Q(("ordered__gte", 0)), name="order_line_orders_nothing_below_zero"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("pack__gt", 0),
                                    models.Q(("pack_price__isnull", True), ("pack_price__gte", 0), _connector="OR"),
                                ),
                                name="order_line_pack_holds_something",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("cost__isnull", True), ("cost__gte", 0), _connector="OR"),
                                name="order_line_cost_not_negative",
                                violation_error_message="A cost cannot be below zero.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SheetChunk",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "sheet",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE, related_name="chunks", to="workshop.sheet"
                            ),
                        ),
                        ("first", models.PositiveIntegerField(help_text="The position of its first row.")),
                        ("rows", models.JSONField()),
                    ],
                    options={
                        "ordering": ["first"],
                        "constraints": [
                            models.UniqueConstraint(fields=("sheet", "first"), name="chunk_once_in_a_sheet")
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SheetRow",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "sheet",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE, related_name="rows", to="workshop.sheet"
                            ),
                        ),
                        ("position", models.PositiveIntegerField()),
                        ("place", models.PositiveIntegerField(help_text="The line of the file.")),
                        (
                            "key",
                            models.CharField(
                                blank=True, help_text="What the row is about, folded; once in a sheet.", max_length=120
                            ),
                        ),
                        (
                            "second_key",
                            models.CharField(
                                blank=True, help_text="By what else it may be known, folded.", max_length=120
                            ),
                        ),
                        ("third_key", models.CharField(blank=True, help_text="And by what else.", max_length=120)),
                        (
                            "same_as",
                            models.PositiveIntegerField(
                                help_text="The line before it that seems to be about the same.", null=True
                            ),
                        ),
                        (
                            "is_another",
                            models.BooleanField(
                                default=False, help_text="A person said that it is about another all the same."
                            ),
                        ),
                        ("cells", models.JSONField()),
                        (
                            "fate",
                            models.CharField(
                                choices=[
                                    ("new", "new"),
                                    ("changed", "changed"),
                                    ("unchanged", "unchanged"),
                                    ("twice", "same as a row before"),
                                    ("refused", "refused"),
                                ],
                                default="unchanged",
                                max_length=10,
                            ),
                        ),
                        ("reason", models.TextField(blank=True)),
                        (
                            "changes",
                            models.JSONField(
                                default=list, help_text="Lists of column, what is stored, what the file says."
                            ),
                        ),
                        (
                            "count",
                            models.JSONField(
                                default=list, help_text="The level and the file's count, where they differ."
                            ),
                        ),
                        ("counts", models.BooleanField(default=False, help_text="Whether they do.")),
                        (
                            "before",
                            models.JSONField(
                                default=dict, help_text="What stood there when it was looked at, to put it back."
                            ),
                        ),
                        ("after", models.JSONField(default=dict, help_text="What stands there since it was imported.")),
                        (
                            "outcome",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("", "not imported"),
                                    ("imported", "imported"),
                                    ("left_out", "left out"),
                                    ("taken_back", "taken back"),
                                    ("stays", "stays"),
                                ],
                                default="",
                                max_length=10,
                            ),
                        ),
                        ("said", models.TextField(blank=True, help_text="Why it was left out, or stays.")),
                        (
                            "about",
                            models.PositiveBigIntegerField(
                                help_text="The customer whom it is about; erased with them.", null=True
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["position"],
                        "indexes": [
                            models.Index(fields=["sheet", "key"], name="sheet_rows_by_key"),
                            models.Index(fields=["sheet", "second_key"], name="sheet_rows_by_second_key"),
                            models.Index(fields=["sheet", "third_key"], name="sheet_rows_by_third_key"),
                            models.Index(fields=["sheet", "about"], name="sheet_rows_by_customer"),
                            models.Index(fields=["sheet", "fate", "position"], name="sheet_rows_by_fate"),
                        ],
                        "constraints": [
                            models.UniqueConstraint(fields=("sheet", "position"), name="row_once_in_a_sheet")
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="WrongCode",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "device",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="wrong_codes",
                                to="workshop.device",
                            ),
                        ),
                        (
                            "user",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="wrong_codes",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [models.Index(fields=["device", "at"], name="wrong_codes_of_a_device")],
                    },
                ),
                migrations.CreateModel(
                    name="RecoveryCode",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "factor",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="recovery_codes",
                                to="workshop.secondfactor",
                            ),
                        ),
                        (
                            "digest",
                            models.CharField(help_text="SHA-256; the code has some 79 random bits.", max_length=64),
                        ),
                        ("used_at", models.DateTimeField(blank=True, null=True)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(fields=("factor", "digest"), name="recovery_code_once")
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="OpenSession",
                    fields=[
                        (
                            "session_key",
                            models.CharField(
                                max_length=40, primary_key=True, serialize=False, verbose_name="session key"
                            ),
                        ),
                        ("session_data", models.TextField(verbose_name="session data")),
                        ("expire_date", models.DateTimeField(db_index=True, verbose_name="expire date")),
                        (
                            "user",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="open_sessions",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "device",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="workshop.device",
                            ),
                        ),
                        ("began_at", models.DateTimeField()),
                        ("last_seen_at", models.DateTimeField()),
                        ("address", models.CharField(blank=True, max_length=64)),
                        (
                            "browser",
                            models.CharField(blank=True, help_text="What it runs on, in words.", max_length=80),
                        ),
                    ],
                    options={
                        "verbose_name": "session",
                        "verbose_name_plural": "sessions",
                        "abstract": False,
                    },
                ),
                migrations.CreateModel(
                    name="PriceChange",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "item",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="price_changes",
                                to="workshop.stockitem",
                            ),
                        ),
                        ("what", models.CharField(choices=[("price", "Price"), ("cost", "Cost")], max_length=5)),
                        ("old", models.DecimalField(decimal_places=4, max_digits=11, null=True)),
                        ("new", models.DecimalField(decimal_places=4, max_digits=11, null=True)),
                        (
                            "update",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="changes",
                                to="workshop.priceupdate",
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("old__isnull", True), ("old__gte", 0), _connector="OR"),
                                    models.Q(("new__isnull", True), ("new__gte", 0), _connector="OR"),
                                ),
                                name="price_change_not_negative",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="StockLevel",
                    fields=[
                        (
                            "item",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                primary_key=True,
                                related_name="kept_level",
                                serialize=False,
                                to="workshop.stockitem",
                            ),
                        ),
                        ("level", models.DecimalField(decimal_places=2, max_digits=11)),
                    ],
                ),
                migrations.CreateModel(
                    name="Batch",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "item",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="batches",
                                to="workshop.stockitem",
                            ),
                        ),
                        ("number", models.CharField(max_length=40)),
                        (
                            "use_by",
                            models.DateField(
                                blank=True, help_text="The last day; none where nobody knows it.", null=True
                            ),
                        ),
                        ("opened_on", models.DateField(blank=True, null=True)),
                        (
                            "bottle_of",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="bottles",
                                to="workshop.batch",
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "verbose_name_plural": "batches",
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                models.F("item"),
                                django.db.models.functions.text.Lower("number"),
                                condition=models.Q(("bottle_of__isnull", True)),
                                name="batch_number_once_of_a_part",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("number", ""), _negated=True), name="batch_has_a_number"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("bottle_of__isnull", True), ("opened_on__isnull", False), _connector="OR"
                                ),
                                name="bottle_of_a_batch_is_opened",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Delivery",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "order",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="deliveries",
                                to="workshop.purchaseorder",
                            ),
                        ),
                        ("sent_id", models.UUIDField(default=uuid.uuid4, editable=False)),
                        (
                            "note",
                            models.CharField(blank=True, help_text="The number of the delivery note.", max_length=120),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("undone_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "undone_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("undone_why", models.CharField(blank=True, max_length=120)),
                    ],
                    options={
                        "verbose_name_plural": "deliveries",
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(fields=("order", "sent_id"), name="delivery_booked_once"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("undone_at__isnull", True), ("undone_why", "")),
                                    models.Q(("undone_at__isnull", False), models.Q(("undone_why", ""), _negated=True)),
                                    _connector="OR",
                                ),
                                name="delivery_booked_back_says_why",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SupplierCredit",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "order",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="credits",
                                to="workshop.purchaseorder",
                            ),
                        ),
                        ("sent_id", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                        (
                            "takes_back",
                            models.OneToOneField(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="taken_back",
                                to="workshop.suppliercredit",
                            ),
                        ),
                        ("amount", models.DecimalField(decimal_places=2, max_digits=9)),
                        (
                            "note",
                            models.CharField(
                                help_text="The number of the credit note, or what it is for.", max_length=120
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("amount__gt", 0), ("takes_back__isnull", True)),
                                    models.Q(("amount__lt", 0), ("takes_back__isnull", False)),
                                    _connector="OR",
                                ),
                                name="credit_taken_back_names_the_credit",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="NewPrice",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "update",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="lines",
                                to="workshop.priceupdate",
                            ),
                        ),
                        (
                            "item",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="new_prices",
                                to="workshop.stockitem",
                            ),
                        ),
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
                        "constraints": [
                            models.UniqueConstraint(fields=("update", "item", "what"), name="one_new_price_of_an_item"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("old__isnull", True), ("old__gte", 0), _connector="OR"),
                                    models.Q(("new__isnull", True), ("new__gte", 0), _connector="OR"),
                                ),
                                name="new_price_not_negative",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("what", "cost"), ("new__isnull", False), _connector="OR"),
                                name="new_price_is_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ShelfCount",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "take",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="counts",
                                to="workshop.stocktake",
                            ),
                        ),
                        (
                            "item",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="workshop.stockitem"
                            ),
                        ),
                        (
                            "counted",
                            models.DecimalField(
                                decimal_places=2, max_digits=9, validators=[django.core.validators.MinValueValidator(0)]
                            ),
                        ),
                        (
                            "level",
                            models.DecimalField(
                                decimal_places=2, help_text="What the stores showed then.", max_digits=11
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("counted__gte", 0)), name="shelf_count_not_negative"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SupplierPart",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "item",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="offers",
                                to="workshop.stockitem",
                            ),
                        ),
                        (
                            "supplier",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="offers",
                                to="workshop.supplier",
                            ),
                        ),
                        ("number", models.CharField(blank=True, max_length=60)),
                        (
                            "pack",
                            models.DecimalField(
                                decimal_places=2,
                                default=Decimal("1"),
                                help_text="What is bought at once: pieces, or ml.",
                                max_digits=9,
                            ),
                        ),
                        (
                            "price",
                            models.DecimalField(
                                blank=True,
                                decimal_places=4,
                                help_text="Of a pack; empty where it is not known.",
                                max_digits=11,
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0)],
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["supplier__name"],
                        "indexes": [models.Index(fields=["number"], name="supplier_part_number")],
                        "constraints": [
                            models.UniqueConstraint(fields=("item", "supplier"), name="part_once_of_a_supplier"),
                            models.CheckConstraint(
                                condition=models.Q(("pack__gt", 0)),
                                name="pack_holds_something",
                                violation_error_message="A pack holds more than nothing.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("price__isnull", True), ("price__gt", 0), _connector="OR"),
                                name="supplier_price_above_zero",
                                violation_error_message="Enter a price above zero, or leave it empty where it is not known.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="BasketLine",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "item",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="basket_line",
                                to="workshop.stockitem",
                            ),
                        ),
                        ("quantity", models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True)),
                        (
                            "supplier",
                            models.CharField(blank=True, help_text="Another than the one at the part.", max_length=80),
                        ),
                        ("left_out", models.BooleanField(default=False)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("quantity__isnull", True), ("quantity__gt", 0), _connector="OR"),
                                name="basket_line_orders_something",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Receipt",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="receipts", to="workshop.shop"
                            ),
                        ),
                        (
                            "customer",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="receipts",
                                to="workshop.customer",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(choices=[("receipt", "Receipt"), ("credit", "Credit note")], max_length=7),
                        ),
                        ("year", models.PositiveSmallIntegerField()),
                        ("number", models.PositiveIntegerField()),
                        (
                            "corrects",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="credit_notes",
                                to="workshop.receipt",
                            ),
                        ),
                        ("reason", models.CharField(blank=True, max_length=200)),
                        (
                            "client_id",
                            models.UUIDField(
                                blank=True, editable=False, help_text="Of one in part.", null=True, unique=True
                            ),
                        ),
                        ("currency", models.CharField(max_length=3)),
                        ("tax_name", models.CharField(max_length=20)),
                        ("data", models.JSONField(help_text="What it prints.")),
                        ("tax_rows", models.JSONField(help_text="Percent, net, tax and gross of each rate.")),
                        ("net", models.DecimalField(decimal_places=2, max_digits=10)),
                        ("tax", models.DecimalField(decimal_places=2, max_digits=10)),
                        ("gross", models.DecimalField(decimal_places=2, max_digits=10)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [models.Index(fields=["shop", "at"], name="receipts_of_days")],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("shop", "kind", "year", "number"), name="receipt_number_once_in_a_year"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("number__gte", 1)), name="receipt_numbered_from_one"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("corrects__isnull", True), ("gross__gte", 0), ("kind", "receipt")),
                                    models.Q(
                                        ("corrects__isnull", False),
                                        ("gross__lte", 0),
                                        ("kind", "credit"),
                                        models.Q(("reason", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="credit_note_says_what_it_corrects",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Calibration",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "tool",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="calibrations",
                                to="workshop.torquetool",
                            ),
                        ),
                        ("on", models.DateField()),
                        ("due", models.DateField()),
                        ("by_whom", models.CharField(max_length=120)),
                        (
                            "as_found",
                            models.CharField(
                                choices=[
                                    ("within", "within its class"),
                                    ("outside", "outside its class"),
                                    ("not_stated", "not stated"),
                                ],
                                default="not_stated",
                                max_length=10,
                            ),
                        ),
                        (
                            "as_left",
                            models.CharField(
                                choices=[
                                    ("within", "within its class"),
                                    ("outside", "outside its class"),
                                    ("not_stated", "not stated"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("found_share", models.FloatField(blank=True, null=True)),
                        ("left_share", models.FloatField(blank=True, null=True)),
                        ("certificate", models.FileField(blank=True, max_length=160, upload_to="")),
                        (
                            "certificate_kind",
                            models.CharField(blank=True, choices=[("pdf", "PDF"), ("jpg", "Picture")], max_length=3),
                        ),
                        (
                            "entered_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["-on", "-pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("due__gte", models.F("on"))),
                                name="calibration_due_after_it_was_made",
                                violation_error_message="A calibration cannot be due before it was made.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("found_share__isnull", True), ("found_share__gte", 0), _connector="OR"),
                                    models.Q(("left_share__isnull", True), ("left_share__gte", 0), _connector="OR"),
                                ),
                                name="calibration_deviation_not_negative",
                                violation_error_message="Enter a deviation without its sign.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("certificate", ""), ("certificate_kind", "")),
                                    models.Q(
                                        models.Q(("certificate", ""), _negated=True),
                                        models.Q(("certificate_kind", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="certificate_says_its_kind",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ToolLoan",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "tool",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="loans",
                                to="workshop.torquetool",
                            ),
                        ),
                        ("to", models.CharField(max_length=80)),
                        (
                            "lent_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("lent_at", models.DateTimeField()),
                        (
                            "back_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("back_at", models.DateTimeField(null=True)),
                    ],
                    options={
                        "ordering": ["-pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("back_at__isnull", True)),
                                fields=("tool",),
                                name="torque_tool_lent_once_at_a_time",
                                violation_error_message="The tool is lent already.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("back_at__isnull", True), ("back_by__isnull", True)),
                                    models.Q(("back_at__isnull", False), ("back_by__isnull", False)),
                                    _connector="OR",
                                ),
                                name="torque_tool_back_says_who",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ToolCheck",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "tool",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="checks",
                                to="workshop.torquetool",
                            ),
                        ),
                        ("reference_nm", models.FloatField()),
                        ("read_nm", models.FloatField()),
                        ("allowed_share", models.FloatField()),
                        ("within", models.BooleanField()),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["-pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("allowed_share__gt", 0), ("read_nm__gt", 0), ("reference_nm__gt", 0)
                                ),
                                name="torque_tool_check_above_zero",
                                violation_error_message="Enter torques above zero.",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Fitting",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="fittings",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "bike",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="fittings", to="workshop.bike"
                            ),
                        ),
                        ("since", models.DateField()),
                        ("until", models.DateField(blank=True, null=True)),
                        (
                            "recorded_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-since", "-pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("until__isnull", True)),
                                fields=("unit",),
                                name="unit_fitted_on_one_bike",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("until__isnull", True), ("until__gte", models.F("since")), _connector="OR"
                                ),
                                name="fitting_ends_after_it_began",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ChangeOfOwner",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="changes_of_owner",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        ("on", models.DateField()),
                        (
                            "recorded_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["on", "pk"],
                    },
                ),
                migrations.CreateModel(
                    name="Ticket",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="tickets", to="workshop.shop"
                            ),
                        ),
                        ("number", models.PositiveIntegerField()),
                        (
                            "customer",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="tickets",
                                to="workshop.customer",
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="tickets",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "bike",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="tickets",
                                to="workshop.bike",
                            ),
                        ),
                        (
                            "visit",
                            models.ForeignKey(
                                blank=True,
                                help_text="Empty: it came alone.",
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="tickets",
                                to="workshop.visit",
                            ),
                        ),
                        ("complaint_words", models.TextField(help_text="What the customer said, in their words.")),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("booked_in", "Booked in"),
                                    ("on_the_bench", "On the bench"),
                                    ("waiting", "Waiting"),
                                    ("ready", "Ready"),
                                    ("handed_back", "Handed back"),
                                    ("called_off", "Called off"),
                                ],
                                default="booked_in",
                                max_length=12,
                            ),
                        ),
                        (
                            "waiting_for",
                            models.CharField(
                                blank=True,
                                choices=[("parts", "parts"), ("customer", "the customer's answer")],
                                max_length=10,
                            ),
                        ),
                        ("state_since", models.DateTimeField()),
                        ("promised_on", models.DateField()),
                        (
                            "price_ceiling",
                            models.DecimalField(
                                blank=True,
                                decimal_places=2,
                                max_digits=9,
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0)],
                            ),
                        ),
                        (
                            "no_limit_said",
                            models.BooleanField(
                                default=False,
                                help_text="The customer said that there is no limit; without a ceiling and this, nobody asked.",
                            ),
                        ),
                        (
                            "mechanic",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="bench_tickets",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("notes", models.TextField(blank=True)),
                        (
                            "client_id",
                            models.UUIDField(
                                blank=True,
                                editable=False,
                                help_text="Made by the booking form: sent twice, booked once.",
                                null=True,
                                unique=True,
                            ),
                        ),
                        (
                            "doubled_at",
                            models.DateTimeField(
                                blank=True,
                                editable=False,
                                help_text="When it was found open beside another ticket of its unit, from before the database forbade that.",
                                null=True,
                            ),
                        ),
                        ("search_text", models.TextField(editable=False)),
                        ("version", models.PositiveIntegerField(default=1)),
                        ("booked_at", models.DateTimeField()),
                        (
                            "booked_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("complaints", models.ManyToManyField(blank=True, related_name="+", to="diagnosis.complaint")),
                    ],
                    options={
                        "ordering": ["-number"],
                        "indexes": [
                            models.Index(fields=["shop", "state", "promised_on"], name="ticket_board"),
                            models.Index(fields=["mechanic", "state"], name="ticket_mechanic"),
                            models.Index(fields=["shop", "state", "number"], name="ticket_list"),
                            models.Index(fields=["shop", "booked_at"], name="ticket_booked"),
                        ],
                        "constraints": [
                            models.UniqueConstraint(fields=("shop", "number"), name="ticket_number_once_in_a_shop"),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("doubled_at__isnull", True),
                                    ("state__in", ["booked_in", "on_the_bench", "waiting", "ready"]),
                                ),
                                fields=("unit",),
                                name="one_open_ticket_of_a_unit",
                                violation_error_message="This unit is in the shop already, on another ticket.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state", "waiting"), ("waiting_for__in", ["parts", "customer"])),
                                    models.Q(models.Q(("state", "waiting"), _negated=True), ("waiting_for", "")),
                                    _connector="OR",
                                ),
                                name="waiting_says_what_for",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("price_ceiling__isnull", True), ("price_ceiling__gte", 0), _connector="OR"
                                ),
                                name="price_ceiling_not_negative",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("no_limit_said", False), ("price_ceiling__isnull", True), _connector="OR"
                                ),
                                name="no_limit_goes_without_a_ceiling",
                                violation_error_message="A limit and no limit cannot both be.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        ["booked_in", "on_the_bench", "waiting", "ready", "handed_back", "called_off"],
                                    )
                                ),
                                name="ticket_state_is_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="UnitRule",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="rules",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "level",
                            models.CharField(
                                choices=[
                                    ("lowers", "Lowers service"),
                                    ("spring", "Spring service"),
                                    ("full", "Full service"),
                                ],
                                max_length=10,
                            ),
                        ),
                        (
                            "hours",
                            models.FloatField(
                                blank=True,
                                null=True,
                                validators=[
                                    django.core.validators.MinValueValidator(1),
                                    django.core.validators.MaxValueValidator(2000),
                                ],
                            ),
                        ),
                        (
                            "months",
                            models.PositiveSmallIntegerField(
                                blank=True,
                                null=True,
                                validators=[
                                    django.core.validators.MinValueValidator(1),
                                    django.core.validators.MaxValueValidator(120),
                                ],
                            ),
                        ),
                        ("source", models.CharField(help_text="Where the figure is from.", max_length=160)),
                        (
                            "set_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("set_at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("hours__isnull", True), ("hours__gt", 0), _connector="OR"),
                                name="rule_hours_positive",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("months__isnull", True), ("months__gt", 0), _connector="OR"),
                                name="rule_months_positive",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="WeeklyHours",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="weekly_hours",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "hours_per_week",
                            models.FloatField(
                                validators=[
                                    django.core.validators.MinValueValidator(0),
                                    django.core.validators.MaxValueValidator(80),
                                ]
                            ),
                        ),
                        (
                            "conditions",
                            models.CharField(
                                choices=[
                                    ("dry", "mostly dry and clean"),
                                    ("wet", "often wet or muddy"),
                                    ("dusty", "often dusty"),
                                ],
                                default="dry",
                                max_length=10,
                            ),
                        ),
                        ("since", models.DateField()),
                        (
                            "said_by_customer",
                            models.BooleanField(default=True, help_text="False: the shop's own estimate."),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["since", "pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("hours_per_week__gte", 0), ("hours_per_week__lte", 80)),
                                name="weekly_hours_fit_a_week",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Ride",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="rides",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        ("began_at", models.DateTimeField()),
                        ("ended_at", models.DateTimeField()),
                        ("moving_s", models.FloatField(help_text="Moving time in seconds.")),
                        (
                            "digest",
                            models.CharField(
                                help_text="SHA-256 of the times of its points: a ride sent twice counts once.",
                                max_length=64,
                            ),
                        ),
                        ("sent_by_customer", models.BooleanField(default=False)),
                        ("at", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["began_at", "pk"],
                        "constraints": [
                            models.UniqueConstraint(fields=("unit", "digest"), name="ride_counted_once"),
                            models.CheckConstraint(condition=models.Q(("moving_s__gte", 0)), name="ride_moves_forward"),
                            models.CheckConstraint(
                                condition=models.Q(("ended_at__gte", models.F("began_at"))),
                                name="ride_ends_after_start",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="CounterReading",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="counter_readings",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        ("on", models.DateField()),
                        (
                            "counter_hours",
                            models.FloatField(
                                validators=[
                                    django.core.validators.MinValueValidator(0),
                                    django.core.validators.MaxValueValidator(100000),
                                ]
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["on", "pk"],
                        "constraints": [
                            models.UniqueConstraint(fields=("unit", "on"), name="one_counter_reading_a_day"),
                            models.CheckConstraint(
                                condition=models.Q(("counter_hours__gte", 0)), name="counter_not_negative"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="DueUnit",
                    fields=[
                        (
                            "unit",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                primary_key=True,
                                related_name="due_unit",
                                serialize=False,
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                db_index=False,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "place",
                            models.PositiveSmallIntegerField(
                                choices=[(0, "Overdue"), (1, "Due"), (2, "Coming Up"), (3, "Put Off"), (4, "Nothing")]
                            ),
                        ),
                        (
                            "turn",
                            models.IntegerField(
                                default=0,
                                help_text="The order within a place, from the day of the service that is named first.",
                            ),
                        ),
                        ("may_remind", models.BooleanField(help_text="Whether the customer agreed to reminders.")),
                        ("as_of", models.DateField(help_text="The day on which this was worked out.")),
                        (
                            "look_again_on",
                            models.DateField(
                                help_text="The first day that may change it, without a new entry.", null=True
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(fields=["shop", "place", "turn", "unit"], name="due_units"),
                            models.Index(
                                fields=["shop", "may_remind", "place", "turn", "unit"], name="due_units_to_remind"
                            ),
                            models.Index(fields=["shop", "look_again_on"], name="due_units_to_look_at"),
                            models.Index(fields=["shop", "as_of"], name="due_units_worked_out"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="UnitChanged",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                db_constraint=False,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                db_constraint=False,
                                db_index=False,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="workshop.shop",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [models.Index(fields=["shop", "id"], name="units_changed_in_order")],
                    },
                ),
                migrations.CreateModel(
                    name="OrderStep",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "order",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="steps",
                                to="workshop.purchaseorder",
                            ),
                        ),
                        (
                            "line",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="workshop.orderline",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("sent", "Sent"),
                                    ("not_sent", "Not sent after all"),
                                    ("confirmed", "Confirmed"),
                                    ("added", "Added"),
                                    ("changed", "Changed"),
                                    ("cancelled", "Cancelled"),
                                    ("closed", "Closed"),
                                    ("opened", "Opened again"),
                                ],
                                max_length=9,
                            ),
                        ),
                        ("values", models.JSONField(default=dict)),
                        ("reason", models.CharField(blank=True, max_length=120)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                    },
                ),
                migrations.CreateModel(
                    name="Message",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="reminder_messages",
                                to="workshop.shop",
                            ),
                        ),
                        (
                            "customer",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="reminder_messages",
                                to="workshop.customer",
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="reminder_messages",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "order",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="messages",
                                to="workshop.purchaseorder",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[("reminder", "Reminder"), ("ready", "It is ready"), ("order", "An order")],
                                default="reminder",
                                max_length=10,
                            ),
                        ),
                        (
                            "channel",
                            models.CharField(choices=[("email", "Email"), ("letter", "Letter")], max_length=10),
                        ),
                        (
                            "to_address",
                            models.TextField(
                                blank=True, help_text="Email address, or the lines of the postal address."
                            ),
                        ),
                        ("subject", models.CharField(max_length=200)),
                        (
                            "body",
                            models.TextField(
                                help_text="As approved, without the line that says how to stop reminders."
                            ),
                        ),
                        ("stop_url", models.URLField(blank=True, max_length=400)),
                        (
                            "due_on",
                            models.DateField(
                                blank=True, help_text="Of a reminder, the day its service is due.", null=True
                            ),
                        ),
                        ("calendar", models.TextField(blank=True, help_text="The iCalendar file that goes with it.")),
                        (
                            "attached",
                            models.TextField(
                                blank=True, help_text="The purchase list that goes with an order, as CSV."
                            ),
                        ),
                        ("message_id", models.CharField(max_length=120, unique=True)),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("queued", "Waits to be sent"),
                                    ("claimed", "Being sent"),
                                    ("handing_over", "Being handed over"),
                                    ("sent", "Sent"),
                                    ("failed", "Came back"),
                                    ("uncertain", "Cut off while sending"),
                                    ("called_off", "Called off"),
                                ],
                                default="queued",
                                max_length=12,
                            ),
                        ),
                        ("claim", models.UUIDField(blank=True, null=True)),
                        ("claimed_at", models.DateTimeField(blank=True, null=True)),
                        ("attempts", models.PositiveSmallIntegerField(default=0)),
                        (
                            "not_before",
                            models.DateTimeField(
                                blank=True, help_text="After a passing failure, when to try again.", null=True
                            ),
                        ),
                        ("problem", models.CharField(blank=True, max_length=300)),
                        ("queued_at", models.DateTimeField()),
                        (
                            "queued_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("sent_at", models.DateTimeField(blank=True, null=True)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [models.Index(fields=["shop", "state"], name="message_outbox")],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("sent_at__isnull", False), ("state", "sent")),
                                    models.Q(("state", "sent"), _negated=True),
                                    _connector="OR",
                                ),
                                name="sent_message_says_when",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("subject__contains", "\n"), _negated=True),
                                    models.Q(("subject__contains", "\r"), _negated=True),
                                ),
                                name="subject_is_one_line",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        [
                                            "queued",
                                            "claimed",
                                            "handing_over",
                                            "sent",
                                            "failed",
                                            "uncertain",
                                            "called_off",
                                        ],
                                    )
                                ),
                                name="message_state_is_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("channel__in", ["email", "letter"])),
                                name="message_channel_is_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("customer__isnull", True),
                                        ("kind", "order"),
                                        ("order__isnull", False),
                                        ("unit__isnull", True),
                                    ),
                                    models.Q(
                                        models.Q(("kind", "order"), _negated=True),
                                        ("customer__isnull", False),
                                        ("order__isnull", True),
                                        ("unit__isnull", False),
                                    ),
                                    _connector="OR",
                                ),
                                name="message_is_to_a_customer_or_of_an_order",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("due_on__isnull", False), ("kind", "reminder")),
                                    models.Q(
                                        ("channel", "email"), ("due_on__isnull", True), ("kind__in", ["ready", "order"])
                                    ),
                                    _connector="OR",
                                ),
                                name="message_kind_is_known_and_a_reminder_is_due",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Decision",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="reminder_decisions",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "level",
                            models.CharField(
                                choices=[
                                    ("lowers", "Lowers service"),
                                    ("spring", "Spring service"),
                                    ("full", "Full service"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("counted_from", models.DateField()),
                        (
                            "snoozed_until",
                            models.DateField(blank=True, help_text="Empty: skipped for good.", null=True),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("unit", "level", "counted_from"), name="one_decision_for_a_due_service"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="BatchLevel",
                    fields=[
                        (
                            "batch",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                primary_key=True,
                                related_name="kept_level",
                                serialize=False,
                                to="workshop.batch",
                            ),
                        ),
                        ("level", models.DecimalField(decimal_places=2, max_digits=11)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("level__gte", 0)), name="batch_not_below_nothing"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="DeliveryLine",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "delivery",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="lines",
                                to="workshop.delivery",
                            ),
                        ),
                        (
                            "line",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="delivered",
                                to="workshop.orderline",
                            ),
                        ),
                        ("good", models.DecimalField(decimal_places=2, default=Decimal("0"), max_digits=9)),
                        ("damaged", models.DecimalField(decimal_places=2, default=Decimal("0"), max_digits=9)),
                        ("wrong", models.DecimalField(decimal_places=2, default=Decimal("0"), max_digits=9)),
                        ("missing", models.DecimalField(decimal_places=2, default=Decimal("0"), max_digits=9)),
                        ("price", models.DecimalField(blank=True, decimal_places=4, max_digits=11, null=True)),
                        (
                            "pack_price",
                            models.DecimalField(
                                blank=True, decimal_places=4, help_text="Of a pack, as asked.", max_digits=11, null=True
                            ),
                        ),
                        (
                            "note",
                            models.CharField(blank=True, help_text="What was wrong, or why more came.", max_length=120),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(fields=("delivery", "line"), name="line_once_in_a_delivery"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("damaged__gte", 0),
                                    ("good__gte", 0),
                                    ("missing__gte", 0),
                                    ("wrong__gte", 0),
                                    models.Q(
                                        ("good__gt", 0),
                                        ("damaged__gt", 0),
                                        ("wrong__gt", 0),
                                        ("missing__gt", 0),
                                        _connector="OR",
                                    ),
                                ),
                                name="delivery_line_says_something",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("pack_price__isnull", True), ("price__isnull", True)),
                                    models.Q(("pack_price__gte", 0), ("price__gte", 0)),
                                    _connector="OR",
                                ),
                                name="delivery_price_not_negative",
                                violation_error_message="A price cannot be below zero.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SentBack",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "line",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="sent_back",
                                to="workshop.orderline",
                            ),
                        ),
                        ("sent_id", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                        (
                            "what",
                            models.CharField(
                                choices=[
                                    ("good", "From the stores"),
                                    ("unusable", "Damaged or wrong, never in the stores"),
                                ],
                                max_length=8,
                            ),
                        ),
                        ("quantity", models.DecimalField(decimal_places=2, max_digits=9)),
                        ("reason", models.CharField(max_length=120)),
                        ("replaced", models.BooleanField(help_text="Another is to come; else its money is.")),
                        (
                            "reduced",
                            models.DecimalField(
                                decimal_places=2,
                                default=Decimal("0"),
                                help_text="By how much less is ordered now.",
                                max_digits=9,
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("undone_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "undone_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "sent back",
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("quantity__gt", 0), ("reduced__gte", 0)),
                                name="sent_back_is_something",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("reason", ""), _negated=True), name="sent_back_says_why"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ForkMeasurement",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="measurements",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "means",
                            models.CharField(
                                choices=[("scales", "Scales and a rule"), ("bench", "A measuring bench")], max_length=10
                            ),
                        ),
                        ("made_up", models.BooleanField(default=False)),
                        ("lines", models.TextField()),
                        ("ambient_pa", models.FloatField()),
                        ("drawing", models.JSONField()),
                        ("fit", models.JSONField()),
                        (
                            "entered_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("entered_at", models.DateTimeField()),
                        (
                            "taken_over_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("taken_over_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "checked_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("checked_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "taken_back_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("taken_back_at", models.DateTimeField(blank=True, null=True)),
                    ],
                    options={
                        "ordering": ["-pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("taken_back_at__isnull", True), ("taken_over_at__isnull", False)),
                                fields=("unit",),
                                name="one_measured_geometry_a_unit",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("made_up", False), ("taken_over_at__isnull", True), _connector="OR"
                                ),
                                name="made_up_readings_are_no_geometry",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("checked_by__isnull", True),
                                    ("entered_by__isnull", True),
                                    models.Q(("checked_by", models.F("entered_by")), _negated=True),
                                    _connector="OR",
                                ),
                                name="measurement_checked_by_second_person",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("taken_over_at__isnull", False),
                                    models.Q(("checked_at__isnull", True), ("taken_back_at__isnull", True)),
                                    _connector="OR",
                                ),
                                name="only_what_was_taken_over_is_checked",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="StateMove",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE, related_name="moves", to="workshop.ticket"
                            ),
                        ),
                        (
                            "from_state",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("booked_in", "Booked in"),
                                    ("on_the_bench", "On the bench"),
                                    ("waiting", "Waiting"),
                                    ("ready", "Ready"),
                                    ("handed_back", "Handed back"),
                                    ("called_off", "Called off"),
                                ],
                                max_length=12,
                            ),
                        ),
                        (
                            "to_state",
                            models.CharField(
                                choices=[
                                    ("booked_in", "Booked in"),
                                    ("on_the_bench", "On the bench"),
                                    ("waiting", "Waiting"),
                                    ("ready", "Ready"),
                                    ("handed_back", "Handed back"),
                                    ("called_off", "Called off"),
                                ],
                                max_length=12,
                            ),
                        ),
                        (
                            "waiting_for",
                            models.CharField(
                                blank=True,
                                choices=[("parts", "parts"), ("customer", "the customer's answer")],
                                max_length=10,
                            ),
                        ),
                        ("reason", models.TextField(blank=True)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [models.Index(fields=["at", "to_state"], name="move_of_days")],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("waiting_for", ""), ("to_state", "waiting"), _connector="OR"),
                                name="only_a_move_to_waiting_says_what_for",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="TicketEvent",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE, related_name="events", to="workshop.ticket"
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                blank=True, help_text="A key of KINDS in workshop.work.event_words.", max_length=24
                            ),
                        ),
                        ("values", models.JSONField(blank=True, default=dict, help_text="What its words are made of.")),
                        (
                            "text",
                            models.CharField(
                                blank=True,
                                help_text="Words of a line without a kind; shown as they are.",
                                max_length=300,
                            ),
                        ),
                        (
                            "changes",
                            models.JSONField(blank=True, default=dict, help_text="Key of a field to [before, after]."),
                        ),
                    ],
                    options={
                        "ordering": ["-pk"],
                    },
                ),
                migrations.CreateModel(
                    name="TicketRun",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="ticket_runs",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "run",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="diagnosis.run"
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                    },
                ),
                migrations.CreateModel(
                    name="SettingsRecord",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="settings_records",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "moment",
                            models.CharField(
                                choices=[("arrival", "On arrival"), ("hand_back", "At hand-back")], max_length=10
                            ),
                        ),
                        (
                            "pressure_pa",
                            models.FloatField(
                                blank=True,
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0, "This cannot be below zero.")],
                            ),
                        ),
                        (
                            "sag_m",
                            models.FloatField(
                                blank=True,
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0, "This cannot be below zero.")],
                            ),
                        ),
                        (
                            "rest_travel_m",
                            models.FloatField(
                                blank=True,
                                help_text="How far in it rests with no load.",
                                null=True,
                                validators=[django.core.validators.MinValueValidator(0, "This cannot be below zero.")],
                            ),
                        ),
                        ("rebound_clicks", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("compression_clicks", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("high_compression_clicks", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("spacers", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("remarks", models.CharField(blank=True, max_length=200)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["ticket", "moment"],
                        "constraints": [
                            models.UniqueConstraint(fields=("ticket", "moment"), name="one_settings_record_per_moment"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("pressure_pa__isnull", True), ("pressure_pa__gte", 0), _connector="OR"),
                                    models.Q(("sag_m__isnull", True), ("sag_m__gte", 0), _connector="OR"),
                                    models.Q(
                                        ("rest_travel_m__isnull", True), ("rest_travel_m__gte", 0), _connector="OR"
                                    ),
                                ),
                                name="settings_not_below_zero",
                                violation_error_message="Pressure, sag and how far in it rests cannot be below zero.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ConditionNote",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        ("removed_at", models.DateTimeField(blank=True, editable=False, null=True)),
                        (
                            "removed_by",
                            models.ForeignKey(
                                blank=True,
                                editable=False,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="condition_notes",
                                to="workshop.ticket",
                            ),
                        ),
                        ("place", models.CharField(max_length=80)),
                        ("text", models.CharField(max_length=300)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("removed_by__isnull", True), ("removed_at__isnull", False), _connector="OR"
                                ),
                                name="removed_mark_says_when",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Contact",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="contacts",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("note", "Note"),
                                    ("call", "Call"),
                                    ("ready_email", "Ready, by email"),
                                    ("ready_text", "Ready, by text message"),
                                ],
                                max_length=12,
                            ),
                        ),
                        (
                            "outcome",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("reached", "reached"),
                                    ("no_answer", "no answer"),
                                    ("message_left", "message left"),
                                ],
                                max_length=12,
                            ),
                        ),
                        (
                            "words",
                            models.TextField(
                                blank=True, help_text="What was noted or said; of a message its text as it was told."
                            ),
                        ),
                        ("ready_since", models.DateTimeField(blank=True, null=True)),
                        ("again", models.BooleanField(default=False)),
                        (
                            "message",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="contacts",
                                to="workshop.message",
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["note", "call", "ready_email", "ready_text"])),
                                name="contact_kind_is_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("kind", "call"), ("outcome__in", ["reached", "no_answer", "message_left"])
                                    ),
                                    models.Q(models.Q(("kind", "call"), _negated=True), ("outcome", "")),
                                    _connector="OR",
                                ),
                                name="a_call_says_how_it_ended",
                                violation_error_message="Say how the call ended: reached, no answer, or message left.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("kind", "note"), _negated=True),
                                    models.Q(("words", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="a_note_has_words",
                                violation_error_message="Write down what is to be noted.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("kind__in", ["ready_email", "ready_text"]), ("ready_since__isnull", False)
                                    ),
                                    models.Q(("kind__in", ["note", "call"]), ("ready_since__isnull", True)),
                                    _connector="OR",
                                ),
                                name="told_ready_says_since_when",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("kind", "ready_email"), ("message__isnull", False)),
                                    models.Q(
                                        models.Q(("kind", "ready_email"), _negated=True), ("message__isnull", True)
                                    ),
                                    _connector="OR",
                                ),
                                name="told_by_email_has_its_message",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("again", False), ("kind", "ready_email")),
                                fields=("ticket", "ready_since"),
                                name="told_ready_by_email_once",
                            ),
                            models.UniqueConstraint(fields=("message", "ticket"), name="a_message_once_on_a_ticket"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="PartLine",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="part_lines",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "part",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="ticket_lines",
                                to="specs.part",
                            ),
                        ),
                        (
                            "instead_of",
                            models.ForeignKey(
                                blank=True,
                                help_text="What the line was of before another part was taken for it.",
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="specs.part",
                            ),
                        ),
                        ("words", models.CharField(blank=True, max_length=120)),
                        (
                            "role",
                            models.CharField(
                                blank=True,
                                editable=False,
                                help_text="What a checklist asked for where no part of it is known.",
                                max_length=60,
                            ),
                        ),
                        ("quantity", models.DecimalField(decimal_places=2, max_digits=8)),
                        (
                            "unit_price",
                            models.DecimalField(
                                blank=True,
                                decimal_places=4,
                                help_text="0 is free of charge.",
                                max_digits=11,
                                null=True,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "A price cannot be below zero.")
                                ],
                            ),
                        ),
                        (
                            "source",
                            models.CharField(
                                choices=[("kit", "Service kit"), ("finding", "Finding"), ("by_hand", "Added by hand")],
                                max_length=10,
                            ),
                        ),
                        (
                            "step",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="diagnosis.step",
                            ),
                        ),
                        (
                            "status",
                            models.CharField(
                                choices=[("needed", "Needed"), ("used", "Used"), ("dropped", "Dropped")],
                                default="needed",
                                max_length=10,
                            ),
                        ),
                        ("note", models.CharField(blank=True, max_length=120)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "warranty",
                            models.CharField(
                                blank=True,
                                choices=[("shop", "the shop’s warranty"), ("maker", "the maker’s warranty")],
                                help_text="Who bears it; empty where the customer owes it.",
                                max_length=5,
                            ),
                        ),
                        (
                            "given_at",
                            models.DateTimeField(
                                blank=True,
                                editable=False,
                                help_text="Since when it is kept for this ticket before all others.",
                                null=True,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [models.Index(fields=["part", "status"], name="part_line_needed")],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("quantity__gt", 0)), name="part_line_takes_something"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("part__isnull", False), models.Q(("words", ""), _negated=True), _connector="OR"
                                ),
                                name="part_line_names_something",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("unit_price__isnull", True), ("unit_price__gte", 0), _connector="OR"
                                ),
                                name="part_line_price_not_negative",
                                violation_error_message="A price cannot be below zero.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("status__in", ["needed", "used", "dropped"])),
                                name="part_line_status_is_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("source__in", ["kit", "finding", "by_hand"])),
                                name="part_line_source_is_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("warranty__in", ["", "shop", "maker"])),
                                name="part_line_warranty_is_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="FreeFinding",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="free_findings",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "step",
                            models.ForeignKey(
                                blank=True,
                                help_text="Where in a run it was seen.",
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="diagnosis.step",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[("by_the_way", "By the way"), ("danger", "Dangerous: do not ride")],
                                max_length=12,
                            ),
                        ),
                        ("place", models.CharField(max_length=80)),
                        ("text", models.CharField(max_length=300)),
                        ("client_id", models.UUIDField(default=uuid.uuid4, unique=True)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "withdrawn_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["by_the_way", "danger"])),
                                name="free_finding_says_how_bad",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("place", ""), _negated=True), models.Q(("text", ""), _negated=True)
                                ),
                                name="free_finding_says_what_and_where",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Photo",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        ("removed_at", models.DateTimeField(blank=True, editable=False, null=True)),
                        (
                            "removed_by",
                            models.ForeignKey(
                                blank=True,
                                editable=False,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE, related_name="photos", to="workshop.ticket"
                            ),
                        ),
                        (
                            "step",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="diagnosis.step",
                            ),
                        ),
                        ("client_id", models.UUIDField(default=uuid.uuid4, unique=True)),
                        ("file", models.FileField(max_length=120, upload_to="")),
                        ("thumbnail", models.FileField(max_length=120, upload_to="")),
                        ("width", models.PositiveIntegerField()),
                        ("height", models.PositiveIntegerField()),
                        ("digest", models.CharField(max_length=64)),
                        ("caption", models.CharField(blank=True, max_length=120)),
                        ("for_customer", models.BooleanField(default=False)),
                        (
                            "moment",
                            models.CharField(
                                blank=True,
                                choices=[("before", "Before the work"), ("after", "After the work")],
                                max_length=6,
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("height__gt", 0), ("width__gt", 0)), name="photo_has_a_size"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("removed_by__isnull", True), ("removed_at__isnull", False), _connector="OR"
                                ),
                                name="removed_photo_says_when",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="StoodUnder",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="stood_under",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "customer",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="tickets_before",
                                to="workshop.customer",
                            ),
                        ),
                        ("until", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                    },
                ),
                migrations.CreateModel(
                    name="Document",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="documents",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("work_order", "Work order"),
                                    ("label", "Label"),
                                    ("customer_report", "Customer report"),
                                    ("estimate", "Estimate"),
                                    ("slip", "Slip to sign"),
                                    ("receipt", "Receipt"),
                                    ("credit_note", "Credit note"),
                                ],
                                max_length=20,
                            ),
                        ),
                        ("revision", models.PositiveSmallIntegerField()),
                        ("paper", models.CharField(max_length=10)),
                        ("data", models.JSONField()),
                        (
                            "data_digest",
                            models.CharField(
                                help_text="SHA-256 of the data; its start is printed on the page.", max_length=64
                            ),
                        ),
                        ("pdf", models.FileField(max_length=160, upload_to="")),
                        ("digest", models.CharField(help_text="SHA-256 of the PDF.", max_length=64)),
                        (
                            "issued_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("issued_at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["ticket", "kind", "-revision"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("ticket", "kind", "revision"), name="document_revisions_are_numbered"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("revision__gte", 1)), name="document_revision_from_one"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="LabourLine",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="labour_lines",
                                to="workshop.ticket",
                            ),
                        ),
                        ("words", models.CharField(max_length=120)),
                        (
                            "level",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("lowers", "Lowers service"),
                                    ("spring", "Spring service"),
                                    ("full", "Full service"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("rate_hour", models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True)),
                        (
                            "price",
                            models.DecimalField(
                                decimal_places=2,
                                max_digits=9,
                                validators=[django.core.validators.MinValueValidator(0, "This cannot be below zero.")],
                            ),
                        ),
                        (
                            "warranty",
                            models.CharField(
                                blank=True,
                                choices=[("shop", "the shop’s warranty"), ("maker", "the maker’s warranty")],
                                help_text="Who bears it; empty where the customer owes it.",
                                max_length=5,
                            ),
                        ),
                        ("dropped", models.BooleanField(default=False)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("price__gte", 0)), name="labour_price_not_negative"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("minutes__isnull", True), ("rate_hour__isnull", True)),
                                    models.Q(("minutes__gt", 0), ("minutes__lte", 1440), ("rate_hour__isnull", False)),
                                    _connector="OR",
                                ),
                                name="minutes_have_a_rate",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("rate_hour__isnull", True), ("rate_hour__gte", 0), _connector="OR"),
                                name="rate_of_labour_not_negative",
                                violation_error_message="An hour of labour cannot cost less than nothing.",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("dropped", False), models.Q(("level", ""), _negated=True)),
                                fields=("ticket", "level"),
                                name="service_charged_once_on_a_ticket",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("warranty__in", ["", "shop", "maker"])),
                                name="labour_warranty_is_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Discount",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="discounts",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "off",
                            models.CharField(
                                choices=[("labour", "Off the labour"), ("part", "Off the parts")],
                                default="labour",
                                max_length=6,
                            ),
                        ),
                        ("amount", models.DecimalField(decimal_places=2, max_digits=9)),
                        ("reason", models.CharField(max_length=120)),
                        ("dropped", models.BooleanField(default=False)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(condition=models.Q(("amount__gt", 0)), name="discount_above_zero"),
                            models.CheckConstraint(
                                condition=models.Q(("reason", ""), _negated=True), name="discount_has_a_reason"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="FinalCharges",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="final_charges",
                                to="workshop.ticket",
                            ),
                        ),
                        ("currency", models.CharField(max_length=3)),
                        ("tax_name", models.CharField(max_length=20)),
                        (
                            "lines",
                            models.JSONField(
                                help_text="Kind, number, title, quantity, unit, price, tax_percent, amount."
                            ),
                        ),
                        ("tax_rows", models.JSONField(help_text="Percent, net, tax and gross of each rate.")),
                        ("prices_include_tax", models.BooleanField()),
                        ("net", models.DecimalField(decimal_places=2, max_digits=10)),
                        ("tax", models.DecimalField(decimal_places=2, max_digits=10)),
                        ("gross", models.DecimalField(decimal_places=2, max_digits=10)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["at", "pk"],
                        "indexes": [models.Index(fields=["at"], name="charges_of_days")],
                    },
                ),
                migrations.CreateModel(
                    name="Variant",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="variants",
                                to="workshop.ticket",
                            ),
                        ),
                        ("name", models.CharField(max_length=60)),
                        ("dropped", models.BooleanField(default=False)),
                        ("taken", models.BooleanField(default=False)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("taken", True)), fields=("ticket",), name="one_variant_is_taken"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("name", ""), _negated=True), name="variant_has_a_name"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("taken", False), ("dropped", False), _connector="OR"),
                                name="taken_variant_is_not_dropped",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ServiceDone",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="services_done",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "level",
                            models.CharField(
                                choices=[
                                    ("lowers", "Lowers service"),
                                    ("spring", "Spring service"),
                                    ("full", "Full service"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("on", models.DateField()),
                        (
                            "ticket",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="services_done",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "told_by",
                            models.CharField(
                                help_text="How we know: the checklist, the counter, the customer.", max_length=160
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["-on", "-pk"],
                        "indexes": [
                            models.Index(fields=["unit", "-on"], name="service_done_latest"),
                            models.Index(fields=["on"], name="service_done_days"),
                        ],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("ticket__isnull", False)),
                                fields=("ticket", "level"),
                                name="service_once_on_a_ticket",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("ticket__isnull", True)),
                                fields=("unit", "level", "on"),
                                name="service_elsewhere_once_a_day",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="CustomerLink",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="customer_links",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "secret_digest",
                            models.CharField(
                                help_text="SHA-256 of the secret in the address.", max_length=64, unique=True
                            ),
                        ),
                        ("made_at", models.DateTimeField()),
                        (
                            "made_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("expires_at", models.DateTimeField()),
                        ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "withdrawn_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("last_opened_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "opened_from",
                            models.CharField(
                                blank=True,
                                default="",
                                help_text="Keyed digest of the address it was last opened from.",
                                max_length=64,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("expires_at__gt", models.F("made_at"))), name="link_expires_later"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("withdrawn_by__isnull", True), ("withdrawn_at__isnull", False), _connector="OR"
                                ),
                                name="withdrawn_link_says_when",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="PromiseHeard",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="promise_heard",
                                to="workshop.ticket",
                            ),
                        ),
                        ("earliest_on", models.DateField()),
                        (
                            "reasons",
                            models.JSONField(
                                blank=True, default=list, help_text="Sentences, as the booking showed them."
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                ),
                migrations.CreateModel(
                    name="RemindedService",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "message",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="services",
                                to="workshop.message",
                            ),
                        ),
                        (
                            "unit",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="reminded_services",
                                to="workshop.suspensionunit",
                            ),
                        ),
                        (
                            "level",
                            models.CharField(
                                choices=[
                                    ("lowers", "Lowers service"),
                                    ("spring", "Spring service"),
                                    ("full", "Full service"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("counted_from", models.DateField(help_text="The day the interval began.")),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("unit", "level", "counted_from"), name="never_twice_for_a_due_service"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="OldPart",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="old_parts",
                                to="workshop.ticket",
                            ),
                        ),
                        ("words", models.CharField(max_length=120)),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("kept", "Kept for the customer"),
                                    ("given", "Given to the customer"),
                                    ("thrown_away", "Thrown away"),
                                    ("sent_in", "Sent in for warranty"),
                                    ("accepted", "Warranty accepted"),
                                    ("refused", "Warranty refused"),
                                    ("came_back", "Came back from warranty"),
                                    ("replaced", "Replaced under warranty"),
                                ],
                                default="kept",
                                max_length=12,
                            ),
                        ),
                        (
                            "note",
                            models.CharField(
                                blank=True, help_text="Who agreed that it goes, or where it was sent.", max_length=120
                            ),
                        ),
                        (
                            "agreed_on",
                            models.DateField(
                                blank=True, help_text="When they agreed that it is thrown away.", null=True
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField(help_text="Since when it is so.")),
                        ("version", models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [
                            models.Index(
                                condition=models.Q(
                                    ("state__in", ["kept", "sent_in", "accepted", "refused", "came_back"])
                                ),
                                fields=["at"],
                                name="old_parts_still_ours",
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("words", ""), _negated=True), name="old_part_is_named"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        [
                                            "kept",
                                            "given",
                                            "thrown_away",
                                            "sent_in",
                                            "accepted",
                                            "refused",
                                            "came_back",
                                            "replaced",
                                        ],
                                    )
                                ),
                                name="old_part_state_is_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("agreed_on__isnull", True), ("state", "thrown_away"), _connector="OR"
                                ),
                                name="old_part_agreed_only_to_its_end",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state__in", ["thrown_away", "sent_in"]), _negated=True),
                                    models.Q(("note", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="old_part_goes_on_somebodys_word",
                                violation_error_message="Say who agreed that it goes, or where it was sent.",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="TicketWords",
                    fields=[
                        (
                            "ticket",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.CASCADE,
                                primary_key=True,
                                related_name="words",
                                serialize=False,
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                db_index=False,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="workshop.shop",
                            ),
                        ),
                        ("text", workshop.web.folded_field.FoldedTextField()),
                    ],
                    options={
                        "indexes": [models.Index(fields=["shop", "ticket"], name="words_of_shop_by_ticket")],
                    },
                ),
                migrations.CreateModel(
                    name="HandOver",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="hand_overs",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "client_id",
                            models.UUIDField(
                                editable=False, help_text="Made by the page: sent twice, done once.", unique=True
                            ),
                        ),
                        ("currency", models.CharField(max_length=3)),
                        (
                            "gross",
                            models.DecimalField(
                                decimal_places=2, help_text="What was charged, with tax.", max_digits=10
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("gross__gte", 0)), name="handed_over_for_no_less_than_nothing"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="BoltRecord",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="bolt_records",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "run",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="diagnosis.run",
                            ),
                        ),
                        (
                            "step",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="diagnosis.step",
                            ),
                        ),
                        (
                            "bolt",
                            models.CharField(
                                choices=[
                                    ("foot_air_leg", "Foot fastener, spring side"),
                                    ("foot_damper_leg", "Foot fastener, damper side"),
                                    ("axle", "Axle"),
                                    ("caliper", "Caliper bolts"),
                                    ("stem", "Stem bolts"),
                                    ("upper_crown", "Upper crown, clamps of the legs"),
                                    ("lower_crown", "Lower crown, clamps of the legs"),
                                    ("steerer_clamp", "Crown, clamp of the steerer"),
                                ],
                                max_length=20,
                            ),
                        ),
                        ("torque_nm", models.FloatField(help_text="As set, in N·m.")),
                        ("typed", models.CharField(max_length=40)),
                        ("wanted_nm", models.FloatField(blank=True, null=True)),
                        ("wanted_tolerance_nm", models.FloatField(blank=True, null=True)),
                        (
                            "tool",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="bolt_records",
                                to="workshop.torquetool",
                            ),
                        ),
                        (
                            "marks",
                            models.JSONField(
                                blank=True, default=list, help_text="What is doubtful about it, in sentences."
                            ),
                        ),
                        (
                            "needs_second",
                            models.BooleanField(
                                default=False,
                                help_text="Its tool was outside its range, class or calibration: it counts once countersigned.",
                            ),
                        ),
                        ("client_id", models.UUIDField(default=uuid.uuid4, unique=True)),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "countersigned_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("countersigned_at", models.DateTimeField(blank=True, null=True)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("torque_nm__gt", 0)), name="bolt_torque_above_zero"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("countersigned_by__isnull", True),
                                    models.Q(("countersigned_by", models.F("by")), _negated=True),
                                    _connector="OR",
                                ),
                                name="bolt_countersigned_by_second_person",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("countersigned_at__isnull", True), ("countersigned_by__isnull", True)),
                                    models.Q(("countersigned_at__isnull", False), ("countersigned_by__isnull", False)),
                                    _connector="OR",
                                ),
                                name="bolt_countersigned_says_when",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("wanted_nm__isnull", True), ("wanted_nm__gt", 0), _connector="OR"),
                                    models.Q(
                                        ("wanted_tolerance_nm__isnull", True),
                                        ("wanted_tolerance_nm__gte", 0),
                                        _connector="OR",
                                    ),
                                ),
                                name="bolt_wanted_torque_above_zero",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="FindingAnswer",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="finding_answers",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "tick",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="diagnosis.tick",
                            ),
                        ),
                        (
                            "free",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="answers",
                                to="workshop.freefinding",
                            ),
                        ),
                        (
                            "how",
                            models.CharField(
                                choices=[
                                    ("mended", "Put right"),
                                    ("declined", "The customer said no"),
                                    ("left", "It can go without"),
                                ],
                                max_length=10,
                            ),
                        ),
                        (
                            "by_tick",
                            models.ForeignKey(
                                blank=True,
                                help_text="Work or proof after it.",
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="diagnosis.tick",
                            ),
                        ),
                        (
                            "by_part",
                            models.ForeignKey(
                                blank=True,
                                help_text="A part fitted for it.",
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="workshop.partline",
                            ),
                        ),
                        ("words", models.CharField(blank=True, max_length=300)),
                        ("client_id", models.UUIDField(default=uuid.uuid4, unique=True)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("free__isnull", False), ("tick__isnull", True)),
                                    models.Q(("free__isnull", True), ("tick__isnull", False)),
                                    _connector="OR",
                                ),
                                name="finding_answer_is_of_one_finding",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("by_part__isnull", True), ("by_tick__isnull", False), ("how", "mended")),
                                    models.Q(("by_part__isnull", False), ("by_tick__isnull", True), ("how", "mended")),
                                    models.Q(
                                        ("by_part__isnull", True),
                                        ("by_tick__isnull", True),
                                        ("how", "declined"),
                                        models.Q(("words", ""), _negated=True),
                                    ),
                                    models.Q(("by_part__isnull", True), ("by_tick__isnull", True), ("how", "left")),
                                    _connector="OR",
                                ),
                                name="finding_answer_names_what_answers",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Agreement",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "document",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="answers",
                                to="workshop.document",
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="agreements",
                                to="workshop.ticket",
                            ),
                        ),
                        ("agreed", models.BooleanField()),
                        (
                            "variant",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="answers",
                                to="workshop.variant",
                            ),
                        ),
                        (
                            "amount",
                            models.DecimalField(
                                decimal_places=2, help_text="The total of the estimate, with tax.", max_digits=10
                            ),
                        ),
                        (
                            "data_digest",
                            models.CharField(help_text="Of the estimate's data, as printed on it.", max_length=64),
                        ),
                        (
                            "how",
                            models.CharField(
                                choices=[
                                    ("in_the_shop", "In the shop"),
                                    ("phone", "By phone"),
                                    ("message", "By email or message"),
                                    ("page", "On the customer's page"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("said_by", models.CharField(help_text="Who gave the answer.", max_length=120)),
                        ("note", models.CharField(blank=True, max_length=200)),
                        (
                            "by",
                            models.ForeignKey(
                                help_text="Who wrote it down.",
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("amount__gte", 0)), name="agreed_amount_not_negative"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("said_by", ""), _negated=True), name="answer_says_who_gave_it"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="VariantLine",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "variant",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="workshop.variant"
                            ),
                        ),
                        (
                            "part",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="specs.part",
                            ),
                        ),
                        ("words", models.CharField(blank=True, max_length=120)),
                        ("quantity", models.DecimalField(decimal_places=2, default=Decimal("1"), max_digits=8)),
                        (
                            "price",
                            models.DecimalField(
                                blank=True,
                                decimal_places=4,
                                max_digits=11,
                                null=True,
                                validators=[
                                    django.core.validators.MinValueValidator(0, "A price cannot be below zero.")
                                ],
                            ),
                        ),
                        ("minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("dropped", models.BooleanField(default=False)),
                        (
                            "labour_line",
                            models.OneToOneField(
                                editable=False,
                                null=True,
                                on_delete=django.db.models.deletion.SET_NULL,
                                related_name="offered_as",
                                to="workshop.labourline",
                            ),
                        ),
                        (
                            "part_line",
                            models.OneToOneField(
                                editable=False,
                                null=True,
                                on_delete=django.db.models.deletion.SET_NULL,
                                related_name="offered_as",
                                to="workshop.partline",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("quantity__gt", 0)), name="variant_line_takes_something"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("minutes__isnull", True), ("part__isnull", False)),
                                    models.Q(
                                        ("part__isnull", True),
                                        ("price__isnull", False),
                                        models.Q(("words", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="variant_line_is_a_part_or_work",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("price__isnull", True), ("price__gte", 0), _connector="OR"),
                                name="variant_price_not_negative",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="StockMovement",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "item",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="movements",
                                to="workshop.stockitem",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("received", "Received"),
                                    ("used", "Used on a ticket"),
                                    ("counted", "Counted"),
                                    ("returned", "Returned"),
                                    ("written_off", "Written off"),
                                    ("sent_back", "Sent back to the supplier"),
                                    ("undone", "Booked back"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("quantity", models.DecimalField(decimal_places=2, max_digits=9)),
                        (
                            "order_line",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="movements",
                                to="workshop.orderline",
                            ),
                        ),
                        (
                            "part_line",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="movements",
                                to="workshop.partline",
                            ),
                        ),
                        ("note", models.CharField(blank=True, max_length=120)),
                        (
                            "unit_cost",
                            models.DecimalField(
                                blank=True,
                                decimal_places=4,
                                help_text="What each was bought at, as it came in or went back; none where it is not known.",
                                max_digits=11,
                                null=True,
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        (
                            "sent_id",
                            models.UUIDField(
                                blank=True,
                                editable=False,
                                help_text="Made by the form of a delivery: sent twice, booked once.",
                                null=True,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("quantity", 0), _negated=True), name="movement_moves_something"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("kind__in", ["received", "returned"]), ("quantity__gt", 0)),
                                    models.Q(("kind__in", ["used", "written_off", "sent_back"]), ("quantity__lt", 0)),
                                    ("kind", "counted"),
                                    models.Q(("kind", "undone"), ("order_line__isnull", False)),
                                    _connector="OR",
                                ),
                                name="movement_goes_the_way_of_its_kind",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("part_line__isnull", True), ("kind__in", ["used", "returned"]), _connector="OR"
                                ),
                                name="movement_of_a_ticket_is_used_or_returned",
                            ),
                            models.UniqueConstraint(fields=("item", "sent_id"), name="delivery_form_books_once"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("unit_cost__isnull", True),
                                    models.Q(("kind__in", ["received", "sent_back", "undone"]), ("unit_cost__gte", 0)),
                                    _connector="OR",
                                ),
                                name="what_came_in_cost_nothing_less",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="HandOverTakenBack",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "hand_over",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="taken_back",
                                to="workshop.handover",
                            ),
                        ),
                        (
                            "reason",
                            models.CharField(
                                blank=True, help_text="Empty where it was undone at once.", max_length=200
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                    },
                ),
                migrations.CreateModel(
                    name="Payment",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "shop",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="payments", to="workshop.shop"
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="payments",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "hand_over",
                            models.ForeignKey(
                                blank=True,
                                help_text="Taken with or after it; none for a deposit.",
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="payments",
                                to="workshop.handover",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("cash", "Cash"),
                                    ("card", "Card"),
                                    ("transfer", "Bank transfer"),
                                    ("account", "On account"),
                                ],
                                max_length=8,
                            ),
                        ),
                        ("amount", models.DecimalField(decimal_places=2, max_digits=10)),
                        (
                            "given",
                            models.DecimalField(
                                blank=True, decimal_places=2, help_text="Cash as handed in.", max_digits=10, null=True
                            ),
                        ),
                        ("currency", models.CharField(max_length=3)),
                        ("reason", models.CharField(blank=True, max_length=200)),
                        (
                            "client_id",
                            models.UUIDField(editable=False, help_text="Made by the page: sent twice, booked once."),
                        ),
                        (
                            "part",
                            models.PositiveSmallIntegerField(default=0, help_text="Which of what was paid in one act."),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "indexes": [models.Index(fields=["shop", "at"], name="payments_of_days")],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("client_id", "part"), name="payment_sent_twice_is_booked_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["cash", "card", "transfer", "account"])),
                                name="payment_kind_is_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("amount", 0), _negated=True),
                                    models.Q(
                                        ("amount__gt", 0), models.Q(("kind", "account"), _negated=True), _connector="OR"
                                    ),
                                ),
                                name="payment_is_not_nothing",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("amount__gt", 0), models.Q(("reason", ""), _negated=True), _connector="OR"
                                ),
                                name="money_paid_back_has_a_reason",
                                violation_error_message="Say why it is paid back.",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("given__isnull", True),
                                    models.Q(("amount__gt", 0), ("given__gte", models.F("amount")), ("kind", "cash")),
                                    _connector="OR",
                                ),
                                name="cash_given_covers_what_is_paid",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ReceiptTicket",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "receipt",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="covers",
                                to="workshop.receipt",
                            ),
                        ),
                        (
                            "ticket",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="receipt_shares",
                                to="workshop.ticket",
                            ),
                        ),
                        (
                            "hand_over",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="receipt_shares",
                                to="workshop.handover",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(choices=[("receipt", "Receipt"), ("credit", "Credit note")], max_length=7),
                        ),
                        ("gross", models.DecimalField(decimal_places=2, max_digits=10)),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("kind", "receipt")),
                                fields=("hand_over",),
                                name="one_receipt_of_a_hand_over",
                                violation_error_message="There is a receipt for this already.",
                            ),
                            models.UniqueConstraint(
                                fields=("receipt", "hand_over"), name="a_receipt_once_of_a_hand_over"
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="BatchMovement",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "batch",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="movements",
                                to="workshop.batch",
                            ),
                        ),
                        (
                            "movement",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="of_batches",
                                to="workshop.stockmovement",
                            ),
                        ),
                        ("quantity", models.DecimalField(decimal_places=2, max_digits=9)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "ordering": ["pk"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("quantity", 0), _negated=True),
                                name="batch_movement_moves_something",
                            ),
                            models.UniqueConstraint(fields=("movement", "batch"), name="batch_once_in_a_movement"),
                        ],
                    },
                ),
            ],
        ),
    ]
