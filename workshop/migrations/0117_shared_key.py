"""Which secret key the machines of one database share, told by its digest: a table more."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0116_scheduled_runs"),
    ]

    operations = [
        migrations.CreateModel(
            name="SharedKey",
            fields=[
                ("id", models.PositiveSmallIntegerField(default=1, primary_key=True, serialize=False)),
                ("salt", models.CharField(max_length=32)),
                ("digest", models.CharField(help_text="SHA-256 of salt and key.", max_length=64)),
                ("at", models.DateTimeField()),
            ],
        ),
    ]
