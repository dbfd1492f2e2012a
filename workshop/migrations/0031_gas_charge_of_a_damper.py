from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0030_findings_and_their_answers")]

    operations = [
        migrations.AddField(
            model_name="suspensionunit",
            name="gas_charge",
            field=models.CharField(
                blank=True,
                choices=[("True", "yes"), ("False", "no")],
                default="",
                help_text="Gas behind a piston or bladder of the damper. Left empty it counts as charged.",
                max_length=5,
            ),
            preserve_default=False,
        ),
    ]
