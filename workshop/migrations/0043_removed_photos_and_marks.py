"""Photos and marks that were put on a ticket by mistake can be removed, and are kept as removed. None is yet."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0021_who_wrote_a_version"),
        ("workshop", "0042_tickets_moved_to_whom_they_belong"),
    ]

    operations = [
        migrations.AddField(
            model_name="conditionnote",
            name="removed_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="conditionnote",
            name="removed_by",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="removed_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="photo",
            name="removed_by",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="conditionnote",
            constraint=models.CheckConstraint(
                condition=models.Q(("removed_by__isnull", True), ("removed_at__isnull", False), _connector="OR"),
                name="removed_mark_says_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="photo",
            constraint=models.CheckConstraint(
                condition=models.Q(("removed_by__isnull", True), ("removed_at__isnull", False), _connector="OR"),
                name="removed_photo_says_when",
            ),
        ),
    ]
