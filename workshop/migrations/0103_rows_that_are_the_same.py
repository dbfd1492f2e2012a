"""Rows of a sheet that seem to be about the same as one before are held back until a person says so."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0094_setting_up_a_shop")]

    operations = [
        migrations.AddField(
            model_name="sheetrow",
            name="second_key",
            field=models.CharField(
                blank=True, help_text="By what else it may be known, folded.", max_length=120, default=""
            ),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="sheetrow",
            name="third_key",
            field=models.CharField(blank=True, help_text="And by what else.", max_length=120, default=""),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="sheetrow",
            name="same_as",
            field=models.PositiveIntegerField(
                help_text="The line before it that seems to be about the same.", null=True
            ),
        ),
        migrations.AddField(
            model_name="sheetrow",
            name="is_another",
            field=models.BooleanField(default=False, help_text="A person said that it is about another all the same."),
        ),
        migrations.AlterField(
            model_name="sheetrow",
            name="fate",
            field=models.CharField(
                choices=[
                    ("new", "new"),
                    ("changed", "changed"),
                    ("unchanged", "unchanged"),
                    ("twice", "same as a row before"),
                    ("refused", "refused"),
                ],
                default="unchanged",
                max_length=10,
            ),
        ),
        migrations.AddIndex(
            model_name="sheetrow",
            index=models.Index(fields=["sheet", "second_key"], name="sheet_rows_by_second_key"),
        ),
        migrations.AddIndex(
            model_name="sheetrow",
            index=models.Index(fields=["sheet", "third_key"], name="sheet_rows_by_third_key"),
        ),
        migrations.AddIndex(
            model_name="sheetrow",
            index=models.Index(fields=["sheet", "about"], name="sheet_rows_by_customer"),
        ),
    ]
