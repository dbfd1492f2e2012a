from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0064_one_message_for_a_visit"),
    ]

    operations = [
        migrations.AddField(
            model_name="receipt",
            name="client_id",
            field=models.UUIDField(blank=True, editable=False, help_text="Of one in part.", null=True, unique=True),
        ),
        migrations.RemoveConstraint(model_name="receiptticket", name="one_receipt_of_a_hand_over"),
        migrations.AddConstraint(
            model_name="receiptticket",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "receipt")),
                fields=("hand_over",),
                name="one_receipt_of_a_hand_over",
                violation_error_message="There is a receipt for this already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="receiptticket",
            constraint=models.UniqueConstraint(fields=("receipt", "hand_over"), name="a_receipt_once_of_a_hand_over"),
        ),
    ]
