"""Rules that the functions held and the database did not: what old rows become is said in _rules_of_0028, what they were is kept."""

from django.core.validators import MinValueValidator
from django.db import migrations, models

from specs.models.parts import above_zero
from workshop.migrations._roles_of_0028 import name_roles
from workshop.migrations._rules_of_0028 import mend


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0007_rules_of_runs_and_timers"),
        ("specs", "0005_rules_of_values_and_parts"),
        ("workshop", "0027_logbook_words_into_keys"),
    ]

    operations = [
        migrations.AddField(
            model_name="partline",
            name="role",
            field=models.CharField(
                blank=True,
                default="",
                editable=False,
                help_text="What a checklist asked for where no part of it is known.",
                max_length=60,
            ),
            preserve_default=False,
        ),
        migrations.RunPython(name_roles, migrations.RunPython.noop),
        migrations.RunPython(mend, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="benchcapacity",
            constraint=models.CheckConstraint(
                condition=models.Q(("mechanics__lte", 50), ("unknown_lead_days__lte", 365), ("usual_minutes__gte", 1)),
                name="bench_reckons_within_reason",
                violation_error_message="Enter 50 mechanics at most, a minute at least for a ticket, and 365 days at most for a part.",
            ),
        ),
        migrations.AddConstraint(
            model_name="boltrecord",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("wanted_nm__isnull", True), ("wanted_nm__gt", 0), _connector="OR"),
                    models.Q(("wanted_tolerance_nm__isnull", True), ("wanted_tolerance_nm__gte", 0), _connector="OR"),
                ),
                name="bolt_wanted_torque_above_zero",
            ),
        ),
        migrations.AddConstraint(
            model_name="customer",
            constraint=models.CheckConstraint(
                condition=models.Q(("rider_mass_kg__isnull", True), ("rider_mass_kg__gt", 0), _connector="OR"),
                name="rider_mass_above_zero",
                violation_error_message="The rider's weight is above zero.",
            ),
        ),
        migrations.AddConstraint(
            model_name="customerlink",
            constraint=models.CheckConstraint(
                condition=models.Q(("withdrawn_by__isnull", True), ("withdrawn_at__isnull", False), _connector="OR"),
                name="withdrawn_link_says_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="document",
            constraint=models.CheckConstraint(
                condition=models.Q(("revision__gte", 1)), name="document_revision_from_one"
            ),
        ),
        migrations.AddConstraint(
            model_name="intervalpolicy",
            constraint=models.CheckConstraint(
                condition=models.Q(("coming_up_days__gte", 1), ("coming_up_days__lte", 365)),
                name="coming_up_within_a_year",
                violation_error_message="Enter from 1 to 365 days.",
            ),
        ),
        migrations.AddConstraint(
            model_name="labourline",
            constraint=models.CheckConstraint(
                condition=models.Q(("rate_hour__isnull", True), ("rate_hour__gte", 0), _connector="OR"),
                name="rate_of_labour_not_negative",
                violation_error_message="An hour of labour cannot cost less than nothing.",
            ),
        ),
        migrations.AddConstraint(
            model_name="message",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("state__in", ["queued", "claimed", "handing_over", "sent", "failed", "uncertain", "called_off"])
                ),
                name="message_state_is_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="message",
            constraint=models.CheckConstraint(
                condition=models.Q(("channel__in", ["email", "letter"])), name="message_channel_is_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="orderline",
            constraint=models.CheckConstraint(
                condition=models.Q(("cost__isnull", True), ("cost__gte", 0), _connector="OR"),
                name="order_line_cost_not_negative",
                violation_error_message="A cost cannot be below zero.",
            ),
        ),
        migrations.AddConstraint(
            model_name="partline",
            constraint=models.CheckConstraint(
                condition=models.Q(("unit_price__isnull", True), ("unit_price__gte", 0), _connector="OR"),
                name="part_line_price_not_negative",
                violation_error_message="A price cannot be below zero.",
            ),
        ),
        migrations.AddConstraint(
            model_name="partline",
            constraint=models.CheckConstraint(
                condition=models.Q(("status__in", ["needed", "used", "dropped"])), name="part_line_status_is_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="partline",
            constraint=models.CheckConstraint(
                condition=models.Q(("source__in", ["kit", "finding", "by_hand"])), name="part_line_source_is_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="photo",
            constraint=models.CheckConstraint(
                condition=models.Q(("height__gt", 0), ("width__gt", 0)), name="photo_has_a_size"
            ),
        ),
        migrations.AddConstraint(
            model_name="pricechange",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("old__isnull", True), ("old__gte", 0), _connector="OR"),
                    models.Q(("new__isnull", True), ("new__gte", 0), _connector="OR"),
                ),
                name="price_change_not_negative",
            ),
        ),
        migrations.AddConstraint(
            model_name="retentionpolicy",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("years__isnull", True), models.Q(("years__gte", 1), ("years__lte", 30)), _connector="OR"
                ),
                name="retention_from_one_to_thirty_years",
                violation_error_message="Enter from 1 to 30 years, or nothing.",
            ),
        ),
        migrations.AddConstraint(
            model_name="settingsrecord",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("pressure_pa__isnull", True), ("pressure_pa__gte", 0), _connector="OR"),
                    models.Q(("sag_m__isnull", True), ("sag_m__gte", 0), _connector="OR"),
                    models.Q(("rest_travel_m__isnull", True), ("rest_travel_m__gte", 0), _connector="OR"),
                ),
                name="settings_not_below_zero",
                violation_error_message="Pressure, sag and how far in it rests cannot be below zero.",
            ),
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
            model_name="statemove",
            constraint=models.CheckConstraint(
                condition=models.Q(("waiting_for", ""), ("to_state", "waiting"), _connector="OR"),
                name="only_a_move_to_waiting_says_what_for",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockitem",
            constraint=models.CheckConstraint(
                condition=models.Q(("lead_days__isnull", True), ("lead_days__lte", 365), _connector="OR"),
                name="lead_days_within_a_year",
                violation_error_message="Enter a year at most for the days to deliver.",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockmovement",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind__in", ["received", "returned"]), ("quantity__gt", 0)),
                    models.Q(("kind__in", ["used", "written_off"]), ("quantity__lt", 0)),
                    ("kind", "counted"),
                    _connector="OR",
                ),
                name="movement_goes_the_way_of_its_kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockmovement",
            constraint=models.CheckConstraint(
                condition=models.Q(("part_line__isnull", True), ("kind__in", ["used", "returned"]), _connector="OR"),
                name="movement_of_a_ticket_is_used_or_returned",
            ),
        ),
        migrations.AddConstraint(
            model_name="suspensionunit",
            constraint=models.CheckConstraint(
                condition=models.Q(("travel_m__isnull", True), ("travel_m__gt", 0), _connector="OR"),
                name="unit_travel_above_zero",
                violation_error_message="A travel is above zero.",
            ),
        ),
        migrations.AddConstraint(
            model_name="ticket",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("state__in", ["booked_in", "on_the_bench", "waiting", "ready", "handed_back", "called_off"])
                ),
                name="ticket_state_is_known",
            ),
        ),
        migrations.AlterField(
            model_name="customer",
            name="rider_mass_kg",
            field=models.FloatField(blank=True, null=True, validators=[above_zero]),
        ),
        migrations.AlterField(
            model_name="partline",
            name="unit_price",
            field=models.DecimalField(
                blank=True,
                decimal_places=4,
                help_text="0 is free of charge.",
                max_digits=11,
                null=True,
                validators=[MinValueValidator(0, "A price cannot be below zero.")],
            ),
        ),
        migrations.AlterField(
            model_name="settingsrecord",
            name="pressure_pa",
            field=models.FloatField(
                blank=True, null=True, validators=[MinValueValidator(0, "This cannot be below zero.")]
            ),
        ),
        migrations.AlterField(
            model_name="settingsrecord",
            name="rest_travel_m",
            field=models.FloatField(
                blank=True,
                help_text="How far in it rests with no load.",
                null=True,
                validators=[MinValueValidator(0, "This cannot be below zero.")],
            ),
        ),
        migrations.AlterField(
            model_name="settingsrecord",
            name="sag_m",
            field=models.FloatField(
                blank=True, null=True, validators=[MinValueValidator(0, "This cannot be below zero.")]
            ),
        ),
        migrations.AlterField(
            model_name="suspensionunit",
            name="travel_m",
            field=models.FloatField(blank=True, null=True, validators=[above_zero]),
        ),
    ]
