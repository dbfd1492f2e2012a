"""Models by what is typed of maker and name. Folded here: a database tells Ø, ø and o apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from specs.models import SuspensionModel
from workshop.web.folding import fold


def keys_of_models(words: str, or_else: Callable[[SuspensionModel, str], bool] | None = None) -> Sequence[int]:
    """Keys of the models whose maker and name hold each word, by maker, name and year; one query.

    `or_else(model, word)` lets a word count that is in neither; the model has its key, names and years.
    """
    wanted = fold(words).split()
    few = ("pk", "maker", "name", "year_from", "year_to")

    def holds(model: SuspensionModel, word: str) -> bool:
        return word in fold(model.maker, model.name) or (or_else is not None and or_else(model, word))

    models = SuspensionModel.objects.order_by("maker", "name", "-year_from").only(*few)
    return [model.pk for model in models if all(holds(model, word) for word in wanted)]
