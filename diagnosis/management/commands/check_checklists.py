"""Go through everything that can happen with the checklists of a folder, and say which rule is broken where."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import BaseCommand, CommandError

from diagnosis.checking import Checked, answers_in_words, broken_in_words, check_alone, check_pairs, unit_in_words
from diagnosis.layout import ChecklistFolder, LayoutError, load_folder
from diagnosis.loading import SHIPPED

_HEADS = ("checklist", "combinations", "states seen", "longest", "no way back", "violations")
_ROW = "{:<48} {:>12} {:>16} {:>9} {:>11} {:>10}"


class Command(BaseCommand):
    help = (
        "Explore every state that a unit can come into with the shipped checklists, or those of a folder, on every "
        "kind of unit and whatever is answered: each list alone, and in pairs as one job."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("keys", nargs="*", help="only these checklists; all if none is named")
        parser.add_argument("--folder", type=Path, default=SHIPPED, help="where the checklist files are")
        parser.add_argument("--alone", action="store_true", help="no pairs")
        parser.add_argument("--backwards", action="store_true", help="pairs backwards from ready too: takes minutes")

    def handle(self, *args: Any, keys: list[str], folder: Path, alone: bool, backwards: bool, **options: Any) -> None:
        try:
            found = load_folder(folder)
        except LayoutError as error:
            raise CommandError(str(error)) from error
        known = {plan.key: plan for plan in found.checklists}
        for key in keys:
            if key not in known:
                raise CommandError(f"There is no checklist {key!r}; there are {', '.join(known)}.")
        plans = [known[key] for key in keys or known]
        self.stdout.write(_ROW.format(*_HEADS))
        broken = 0
        for plan in plans:
            broken += self._say(check_alone(plan), found)
        for pair in () if alone else check_pairs(plans, backwards=backwards):
            broken += self._say(pair, found)
        self.stdout.write("“longest”: answers on the longest of the shortest walks to a state.")
        how = "" if backwards else ", in pairs walked from each"
        self.stdout.write(f"“no way back”: states from which no way leads to ready, searched backwards from it{how}.")
        if broken:
            raise CommandError(f"{broken} violation{'s' if broken > 1 else ''}.")

    def _say(self, checked: Checked, folder: ChecklistFolder) -> int:
        seen = checked.explored
        longest = "" if seen.longest is None else str(seen.longest)
        name = " + ".join(checked.keys)
        counts = (seen.combinations, f"{seen.states:,}", longest, seen.without_a_way, len(seen.broken))
        self.stdout.write(_ROW.format(name, *counts))
        titles = {step.key: step.title for key in checked.keys for step in folder.checklist(key).steps}
        for broken in seen.broken:
            self.stdout.write(f"  {broken_in_words(broken, titles)}")
            self.stdout.write(f"    {unit_in_words(broken)}:")
            for number, line in enumerate(answers_in_words(broken, titles), 1):
                self.stdout.write(f"    {number}. {line}")
        return len(seen.broken)
