"""The words tickets are found by; triggers and trigrams follow after migrating (workshop.searching.installing)."""

import django.db.models.deletion
from django.db import migrations, models

import workshop.web.folded_field


class Migration(migrations.Migration):
    dependencies = [
        ("specs", "0003_part_measures_and_bottles"),
        ("workshop", "0011_stock_item_version"),
    ]

    operations = [
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
                ("text", workshop.web.folded_field.FoldedTextField()),
            ],
        ),
        migrations.AlterField(
            model_name="bike",
            name="search_text",
            field=workshop.web.folded_field.FoldedTextField(editable=False),
        ),
        migrations.AlterField(
            model_name="customer",
            name="search_text",
            field=workshop.web.folded_field.FoldedTextField(editable=False),
        ),
        migrations.AlterField(
            model_name="suspensionunit",
            name="search_text",
            field=workshop.web.folded_field.FoldedTextField(editable=False),
        ),
        migrations.AddIndex(
            model_name="bike",
            index=models.Index(fields=["search_text"], name="bike_begins"),
        ),
        migrations.AddIndex(
            model_name="customer",
            index=models.Index(fields=["shop", "search_text"], name="customer_begins"),
        ),
        migrations.AddIndex(
            model_name="suspensionunit",
            index=models.Index(fields=["shop", "search_text"], name="unit_begins"),
        ),
    ]
