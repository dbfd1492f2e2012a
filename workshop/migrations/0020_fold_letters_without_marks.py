"""Fold what is stored once more: ø, ł, đ and their like become plain letters. The index is filled after migrating."""

from functools import reduce

from django.db import migrations
from django.db.models import F, Q, Value
from django.db.models.functions import Replace

LETTERS = {
    "ø": "o", "ł": "l", "đ": "d", "ð": "d", "æ": "ae", "œ": "oe", "þ": "th", "ħ": "h", "ı": "i", "ŋ": "n", "ŧ": "t",
    "ĸ": "q", "’": "'", "‘": "'", "ʼ": "'",
}  # fmt: skip


def fold_again(apps, schema_editor):
    """In one statement for each table: all but these letters was folded when it was stored."""
    folded = reduce(lambda text, pair: Replace(text, Value(pair[0]), Value(pair[1])), LETTERS.items(), F("search_text"))
    has_one = reduce(lambda found, letter: found | Q(search_text__contains=letter), LETTERS, Q())
    for name in ("Customer", "Bike", "SuspensionUnit", "Ticket"):
        apps.get_model("workshop", name).objects.using(schema_editor.connection.alias).filter(has_one).update(
            search_text=folded
        )


class Migration(migrations.Migration):
    dependencies = [("workshop", "0019_words_know_their_shop")]
    operations = [migrations.RunPython(fold_again, migrations.RunPython.noop)]
