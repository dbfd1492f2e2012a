"""Words that people read: nothing in the tables changes."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0113_erased_by_itself"),
    ]

    operations = [
        migrations.AlterField(
            model_name="boltrecord",
            name="needs_second",
            field=models.BooleanField(
                default=False,
                help_text="Its tool was outside its range, class or calibration: it counts after a second-person check.",
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
            model_name="visit",
            name="ceiling_of_a_visit_not_negative",
            constraint=models.CheckConstraint(
                condition=models.Q(("price_ceiling__isnull", True), ("price_ceiling__gte", 0), _connector="OR"),
                name="ceiling_of_a_visit_not_negative",
                violation_error_message="A price limit cannot be below zero.",
            ),
        ),
    ]
