"""Whether a shop is suspended or closed."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0114_words"),
    ]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="closed_at",
            field=models.DateTimeField(blank=True, help_text="Closed for good; it was suspended before.", null=True),
        ),
        migrations.AddField(
            model_name="shop",
            name="suspended_at",
            field=models.DateTimeField(blank=True, help_text="Nobody of it gets in since then.", null=True),
        ),
    ]
