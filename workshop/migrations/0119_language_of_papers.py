"""In which language papers, mails and a customer's page are written, and were: a column on each, empty for the shop's."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0118_shipped_edition"),
    ]

    operations = [
        migrations.AddField(
            model_name="customer",
            name="papers_language",
            field=models.CharField(
                blank=True,
                db_default="",
                default="",
                help_text="Of their papers, mails and page; empty: the shop’s.",
                max_length=20,
            ),
        ),
        migrations.AddField(
            model_name="document",
            name="language",
            field=models.CharField(
                blank=True,
                db_default="",
                default="",
                help_text="In which it was issued; empty: before any was chosen.",
                max_length=20,
            ),
        ),
        migrations.AddField(
            model_name="message",
            name="language",
            field=models.CharField(
                blank=True,
                db_default="",
                default="",
                help_text="In which it was written; empty: the shop’s.",
                max_length=20,
            ),
        ),
    ]
