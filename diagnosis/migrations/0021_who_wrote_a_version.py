"""Who wrote a version, and how often the words it names were changed beside it.

Of versions and drafts that are there already it is only known who made and who changed them: they count as their authors.
"""

from django.apps.registry import Apps
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def name_the_authors(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    for version in apps.get_model("diagnosis", "Checklist").objects.filter(origin="shop", made_by__isnull=False):
        version.written_by.add(version.made_by_id)
    for draft in apps.get_model("diagnosis", "ChecklistDraft").objects.all():
        draft.written_by.add(*{pk for pk in (draft.started_by_id, draft.changed_by_id) if pk is not None})


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0016_what_is_told_of_a_unit"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="checklist",
            name="wording",
            field=models.PositiveIntegerField(
                default=1,
                help_text="One more each time a cause it names is worded anew, for those words have no version.",
            ),
        ),
        migrations.AddField(
            model_name="checklist",
            name="written_by",
            field=models.ManyToManyField(
                blank=True,
                help_text="Who changed it, but not who put it in use.",
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="checklistdraft",
            name="written_by",
            field=models.ManyToManyField(
                blank=True, help_text="Everybody who changed it.", related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.RunPython(name_the_authors, migrations.RunPython.noop),
    ]
