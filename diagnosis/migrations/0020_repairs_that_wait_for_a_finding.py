from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0016_what_is_told_of_a_unit")]

    operations = [
        migrations.AddField(
            model_name="step",
            name="on_finding",
            field=models.BooleanField(
                default=False, help_text="Suggested only where a finding names it as its repair."
            ),
        ),
    ]
