"""Whether a customer said that there is no limit: of old tickets nobody knows, so they count as not asked."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0021_who_wrote_a_version"),
        ("workshop", "0056_told_about_a_ticket"),
    ]

    operations = [
        migrations.AddField(
            model_name="ticket",
            name="no_limit_said",
            field=models.BooleanField(
                default=False,
                help_text="The customer said that there is no limit; without a ceiling and this, nobody asked.",
            ),
        ),
        migrations.AddConstraint(
            model_name="ticket",
            constraint=models.CheckConstraint(
                condition=models.Q(("no_limit_said", False), ("price_ceiling__isnull", True), _connector="OR"),
                name="no_limit_goes_without_a_ceiling",
                violation_error_message="A limit and no limit cannot both be.",
            ),
        ),
    ]
