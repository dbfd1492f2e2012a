"""Where a customer's link was last opened from, and links that opened nothing, as digests."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0108_security_log")]

    operations = [
        migrations.AddField(
            model_name="customerlink",
            name="opened_from",
            field=models.CharField(
                blank=True,
                default="",
                help_text="Keyed digest of the address it was last opened from.",
                max_length=64,
            ),
        ),
        migrations.CreateModel(
            name="WrongLink",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("from_where", models.CharField(help_text="Keyed digest of the address.", max_length=64)),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
                "indexes": [models.Index(fields=["from_where", "at"], name="wrong_links_from_somewhere")],
            },
        ),
    ]
