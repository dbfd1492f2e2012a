"""Which edition of the shipped checklists the database has: a table more."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0117_shared_key"),
    ]

    operations = [
        migrations.CreateModel(
            name="ShippedEdition",
            fields=[
                ("id", models.PositiveSmallIntegerField(default=1, primary_key=True, serialize=False)),
                ("edition", models.PositiveIntegerField()),
                ("at", models.DateTimeField()),
            ],
        ),
    ]
