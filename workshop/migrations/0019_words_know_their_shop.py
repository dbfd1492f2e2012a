"""The words of tickets know their shop. Made anew, not altered: they are filled after migrating, with the triggers."""

import django.db.models.deletion
from django.db import migrations, models

import workshop.web.folded_field


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0018_kept_due_list"),
    ]

    operations = [
        migrations.DeleteModel(name="TicketWords"),
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
    ]
