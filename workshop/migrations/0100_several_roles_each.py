"""Several roles each: the one that somebody had is the first of them, as it stands."""

from django.db import migrations, models

ROLE_SETS = (
    "counter",
    "mechanic",
    "owner",
    "counter mechanic",
    "counter owner",
    "mechanic owner",
    "counter mechanic owner",
)


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0082_old_parts_of_a_ticket"),
    ]

    operations = [
        migrations.RemoveConstraint(model_name="user", name="user_role_is_known"),
        migrations.RenameField(model_name="user", old_name="role", new_name="roles"),
        migrations.AlterField(
            model_name="user",
            name="roles",
            field=models.CharField(
                default="counter", help_text="As `together` in roles.py writes them.", max_length=60
            ),
        ),
        migrations.AddField(model_name="user", name="version", field=models.PositiveIntegerField(default=1)),
        migrations.AddConstraint(
            model_name="user",
            constraint=models.CheckConstraint(
                condition=models.Q(("roles__in", ROLE_SETS)),
                name="user_roles_are_known",
                violation_error_message="Choose one role at least, of those there are.",
            ),
        ),
    ]
