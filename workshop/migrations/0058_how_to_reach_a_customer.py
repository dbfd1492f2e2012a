"""Whom to ask for at a company, further phones, and the language a customer is best spoken to in."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0057_limits_as_they_were_said"),
    ]

    operations = [
        migrations.AddField(
            model_name="customer",
            name="contact_person",
            field=models.CharField(blank=True, help_text="Of a company, whom to ask for.", max_length=120),
        ),
        migrations.AddField(
            model_name="customer",
            name="language",
            field=models.CharField(blank=True, help_text="What they are best spoken to in.", max_length=40),
        ),
        migrations.AddField(
            model_name="customer",
            name="other_phones",
            field=models.TextField(blank=True, help_text="Further numbers, one a line, each with what it is."),
        ),
    ]
