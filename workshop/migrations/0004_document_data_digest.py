from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0003_booking_form_sent_once")]

    operations = [
        migrations.AddField(
            model_name="document",
            name="data_digest",
            field=models.CharField(
                default="", help_text="SHA-256 of the data; its start is printed on the page.", max_length=64
            ),
            preserve_default=False,
        ),
    ]
