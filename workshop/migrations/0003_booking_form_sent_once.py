from django.db import migrations, models


class Migration(migrations.Migration):
    """A ticket remembers the form that made it, so that a form sent twice books once."""

    dependencies = [("workshop", "0002_tickets_and_stores")]

    operations = [
        migrations.AddField(
            model_name="ticket",
            name="client_id",
            field=models.UUIDField(
                blank=True,
                editable=False,
                help_text="Made by the booking form: sent twice, booked once.",
                null=True,
                unique=True,
            ),
        ),
    ]
