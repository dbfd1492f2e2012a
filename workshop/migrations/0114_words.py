"""Words that people read: nothing in the tables changes."""

import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    contracts = "Nothing: labels, help and messages alone."

    dependencies = [
        ("workshop", "0113_erased_by_itself"),
    ]

    operations = [
        migrations.AlterField(
            model_name="agreement",
            name="data_digest",
            field=models.CharField(help_text="Of the estimate’s data, as printed on it.", max_length=64),
        ),
        migrations.AlterField(
            model_name="agreement",
            name="how",
            field=models.CharField(
                choices=[
                    ("in_the_shop", "In the shop"),
                    ("phone", "By phone"),
                    ("message", "By email or message"),
                    ("page", "On the customer’s page"),
                ],
                max_length=12,
            ),
        ),
        migrations.AlterField(
            model_name="boltrecord",
            name="needs_second",
            field=models.BooleanField(
                default=False,
                help_text="Its tool was outside its range, class or calibration: it counts after a second-person check.",
            ),
        ),
        migrations.AlterField(
            model_name="device",
            name="digest",
            field=models.CharField(
                help_text="SHA-256 of the secret in the device’s cookie.", max_length=64, unique=True
            ),
        ),
        migrations.AlterField(
            model_name="document",
            name="kind",
            field=models.CharField(
                choices=[
                    ("work_order", "Work order"),
                    ("label", "Label"),
                    ("customer_report", "Service report"),
                    ("estimate", "Estimate"),
                    ("slip", "Slip to sign"),
                    ("receipt", "Receipt"),
                    ("credit_note", "Credit note"),
                ],
                max_length=20,
            ),
        ),
        migrations.AlterField(
            model_name="findinganswer",
            name="how",
            field=models.CharField(
                choices=[
                    ("mended", "Put right"),
                    ("declined", "The customer said no"),
                    ("left", "Released without it"),
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="knownbrowser",
            name="digest",
            field=models.CharField(help_text="SHA-256 of the secret in the browser’s cookie.", max_length=64),
        ),
        migrations.AlterField(
            model_name="mailsettings",
            name="by_server",
            field=models.BooleanField(default=False, help_text="A letter to try what the server’s environment sets."),
        ),
        migrations.AlterField(
            model_name="mailsettings",
            name="sender",
            field=models.EmailField(blank=True, help_text="Empty: the shop’s own address.", max_length=254),
        ),
        migrations.AlterField(
            model_name="message",
            name="attached",
            field=models.TextField(blank=True, help_text="The lines of the purchase order that goes with it, as CSV."),
        ),
        migrations.AlterField(
            model_name="message",
            name="state",
            field=models.CharField(
                choices=[
                    ("queued", "Queued"),
                    ("claimed", "Being sent"),
                    ("handing_over", "Being handed over"),
                    ("sent", "Sent"),
                    ("failed", "Returned"),
                    ("uncertain", "Cut off while sending"),
                    ("called_off", "Cancelled"),
                ],
                default="queued",
                max_length=12,
            ),
        ),
        migrations.AlterField(
            model_name="orderline",
            name="expected_on",
            field=models.DateField(blank=True, help_text="Where it is another day than the order’s.", null=True),
        ),
        migrations.AlterField(
            model_name="partline",
            name="status",
            field=models.CharField(
                choices=[("needed", "Needed"), ("used", "Used"), ("dropped", "Removed")],
                default="needed",
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="purchaseorder",
            name="currency",
            field=models.CharField(blank=True, help_text="Of its prices; empty is the shop’s own.", max_length=3),
        ),
        migrations.AlterField(
            model_name="sheet",
            name="heads",
            field=models.JSONField(default=list, help_text="Of the file’s columns, as they stand in it."),
        ),
        migrations.AlterField(
            model_name="sheetrow",
            name="count",
            field=models.JSONField(default=list, help_text="The level and the file’s count, where they differ."),
        ),
        migrations.AlterField(
            model_name="statemove",
            name="from_state",
            field=models.CharField(
                blank=True,
                choices=[
                    ("booked_in", "Booked in"),
                    ("on_the_bench", "On the bench"),
                    ("waiting", "Waiting"),
                    ("ready", "Ready"),
                    ("handed_back", "Handed back"),
                    ("called_off", "Cancelled"),
                ],
                max_length=12,
            ),
        ),
        migrations.AlterField(
            model_name="statemove",
            name="to_state",
            field=models.CharField(
                choices=[
                    ("booked_in", "Booked in"),
                    ("on_the_bench", "On the bench"),
                    ("waiting", "Waiting"),
                    ("ready", "Ready"),
                    ("handed_back", "Handed back"),
                    ("called_off", "Cancelled"),
                ],
                max_length=12,
            ),
        ),
        migrations.AlterField(
            model_name="statemove",
            name="waiting_for",
            field=models.CharField(
                blank=True, choices=[("parts", "parts"), ("customer", "the customer’s answer")], max_length=10
            ),
        ),
        migrations.AlterField(
            model_name="supplier",
            name="account",
            field=models.CharField(blank=True, help_text="The shop’s number there.", max_length=40),
        ),
        migrations.AlterField(
            model_name="supplier",
            name="currency",
            field=models.CharField(
                blank=True,
                help_text="Of its prices; empty is the shop’s own.",
                max_length=3,
                validators=[
                    django.core.validators.RegexValidator(
                        "\\A[A-Z]{3}\\Z", "Enter the three letters of a currency, such as EUR."
                    )
                ],
            ),
        ),
        migrations.AlterField(
            model_name="ticket",
            name="no_limit_said",
            field=models.BooleanField(
                default=False,
                help_text="The customer said that there is no limit; without a limit and this, nobody asked.",
            ),
        ),
        migrations.AlterField(
            model_name="ticket",
            name="state",
            field=models.CharField(
                choices=[
                    ("booked_in", "Booked in"),
                    ("on_the_bench", "On the bench"),
                    ("waiting", "Waiting"),
                    ("ready", "Ready"),
                    ("handed_back", "Handed back"),
                    ("called_off", "Cancelled"),
                ],
                default="booked_in",
                max_length=12,
            ),
        ),
        migrations.AlterField(
            model_name="ticket",
            name="waiting_for",
            field=models.CharField(
                blank=True, choices=[("parts", "parts"), ("customer", "the customer’s answer")], max_length=10
            ),
        ),
        migrations.AlterField(
            model_name="weeklyhours",
            name="said_by_customer",
            field=models.BooleanField(default=True, help_text="False: the shop’s own estimate."),
        ),
        migrations.AlterConstraint(
            model_name="contact",
            name="a_note_has_words",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "note"), _negated=True), models.Q(("words", ""), _negated=True), _connector="OR"
                ),
                name="a_note_has_words",
                violation_error_message="Enter the note.",
            ),
        ),
        migrations.AlterConstraint(
            model_name="customer",
            name="rider_mass_above_zero",
            constraint=models.CheckConstraint(
                condition=models.Q(("rider_mass_kg__isnull", True), ("rider_mass_kg__gt", 0), _connector="OR"),
                name="rider_mass_above_zero",
                violation_error_message="The rider’s weight is above zero.",
            ),
        ),
        migrations.AlterConstraint(
            model_name="visit",
            name="ceiling_of_a_visit_not_negative",
            constraint=models.CheckConstraint(
                condition=models.Q(("price_ceiling__isnull", True), ("price_ceiling__gte", 0), _connector="OR"),
                name="ceiling_of_a_visit_not_negative",
                violation_error_message="A price limit cannot be below zero.",
            ),
        ),
    ]
