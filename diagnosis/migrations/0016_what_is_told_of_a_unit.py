import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0015_air_that_still_pulls"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="run",
            name="said",
            field=models.PositiveIntegerField(default=0, help_text="How often something was told of the job's unit."),
        ),
        migrations.CreateModel(
            name="ToldOtherwise",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("job", models.UUIDField(db_index=True)),
                ("part", models.CharField(max_length=30)),
                ("value", models.CharField(max_length=20)),
                ("note", models.TextField(blank=True)),
                ("after_tick", models.PositiveBigIntegerField(default=0)),
                ("client_id", models.UUIDField(default=uuid.uuid4, unique=True)),
                ("said_at", models.DateTimeField(auto_now_add=True)),
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
                    "run",
                    models.ForeignKey(
                        help_text="Where it was said.",
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="told",
                        to="diagnosis.run",
                    ),
                ),
                (
                    "takes_back",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="taken_back_by",
                        to="diagnosis.toldotherwise",
                    ),
                ),
            ],
            options={"ordering": ["pk"]},
        ),
    ]
