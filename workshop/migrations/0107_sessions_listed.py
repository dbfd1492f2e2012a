"""Sessions say whose they are, since when and on what; and in which browsers somebody gave the password before.

Whoever is signed in signs in once more after this: the sessions of before say none of that.
"""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def end_old_sessions(apps, schema_editor):
    apps.get_model("sessions", "Session").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [
        ("sessions", "0001_initial"),
        ("workshop", "0104_country_of_a_shop"),
    ]

    operations = [
        migrations.AddField(
            model_name="user",
            name="has_sign_in_news",
            field=models.BooleanField(default=False, help_text="A sign-in from a new device was not seen yet."),
        ),
        migrations.CreateModel(
            name="OpenSession",
            fields=[
                (
                    "session_key",
                    models.CharField(max_length=40, primary_key=True, serialize=False, verbose_name="session key"),
                ),
                ("session_data", models.TextField(verbose_name="session data")),
                ("expire_date", models.DateTimeField(db_index=True, verbose_name="expire date")),
                ("began_at", models.DateTimeField()),
                ("last_seen_at", models.DateTimeField()),
                ("address", models.CharField(blank=True, max_length=64)),
                ("browser", models.CharField(blank=True, help_text="What it runs on, in words.", max_length=80)),
                (
                    "device",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="workshop.device",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="open_sessions",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "session",
                "verbose_name_plural": "sessions",
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="KnownBrowser",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "digest",
                    models.CharField(help_text="SHA-256 of the secret in the browser's cookie.", max_length=64),
                ),
                ("browser", models.CharField(blank=True, max_length=80)),
                ("address", models.CharField(blank=True, max_length=64)),
                ("first_at", models.DateTimeField()),
                (
                    "to_be_told",
                    models.BooleanField(default=False, help_text="Its person has not seen yet that it is new."),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="known_browsers",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [models.UniqueConstraint(fields=("user", "digest"), name="browser_known_once")],
            },
        ),
        migrations.RunPython(end_old_sessions, migrations.RunPython.noop, elidable=True),
    ]
