from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0012_readings_that_are_words"),
    ]

    operations = [
        migrations.AddField(
            model_name="step",
            name="moves",
            field=models.CharField(blank=True, help_text="Whether the bike is pushed or ridden.", max_length=8),
        ),
    ]
