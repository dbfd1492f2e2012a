"""A line of the logbook holds a kind and values; what was written in words is put into them by the next migration."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0025_shop_public_address"),
    ]

    operations = [
        migrations.AddField(
            model_name="ticketevent",
            name="kind",
            field=models.CharField(
                blank=True, default="", help_text="A key of KINDS in workshop.work.event_words.", max_length=24
            ),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="ticketevent",
            name="values",
            field=models.JSONField(blank=True, default=dict, help_text="What its words are made of."),
        ),
        migrations.AlterField(
            model_name="ticketevent",
            name="text",
            field=models.CharField(
                blank=True, help_text="Words of a line without a kind; shown as they are.", max_length=300
            ),
        ),
        migrations.AlterField(
            model_name="ticketevent",
            name="changes",
            field=models.JSONField(blank=True, default=dict, help_text="Key of a field to [before, after]."),
        ),
    ]
