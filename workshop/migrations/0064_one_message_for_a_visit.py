import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0063_price_ceiling_of_a_visit"),
    ]

    operations = [
        migrations.RemoveConstraint(model_name="contact", name="told_ready_by_email_once"),
        migrations.AddField(model_name="contact", name="again", field=models.BooleanField(default=False)),
        migrations.AlterField(
            model_name="contact",
            name="message",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="contacts",
                to="workshop.message",
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.UniqueConstraint(
                condition=models.Q(("again", False), ("kind", "ready_email")),
                fields=("ticket", "ready_since"),
                name="told_ready_by_email_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.UniqueConstraint(fields=("message", "ticket"), name="a_message_once_on_a_ticket"),
        ),
    ]
