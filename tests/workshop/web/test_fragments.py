"""A fragment is worth its file: it is included at least twice, rendered by a view, or kept for a reason."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from django.conf import settings

BASE = Path(settings.BASE_DIR)
TEMPLATES = BASE / "templates"
# Included once, and kept: each names a part of a page that is long enough without it.
KEPT = {
    "bench/_cause_figures.html": "a table within the folded order of a run",
    "bench/_conflict.html": "what a refused answer adds to the open step",
    "bench/_emptying.html": "what stays in the negative chamber, with its table, in a card of 120 lines without it",
    "bench/_expected_parts.html": "what a ticket is likely to need, in a page of 150 lines without it",
    "bench/_finding_standing.html": "how a finding stands, in the list of a ticket's findings",
    "bench/_job.html": "only where a ticket has several runs",
    "bench/_latest_answer.html": "the answer given last, beside the conflict in whose place it stands",
    "bench/_order.html": "both orders of a run, in the longest part of the ticket's page",
    "checklists/_step_in_full.html": "a step written out, of which its page has many",
    "bench/_spring_gap.html": "what is missing, in place of the spring's answer",
    "bench/_spring_headline.html": "the spring in one line, beside every step",
    "bench/_service_kits.html": "the kits of the service that was booked, in a page of several parts",
    "bench/_step_answers.html": "the answers, in a card of 120 lines without them",
    "bench/_step_folds.html": "what is seldom needed of a step, in a card of 120 lines without it",
    "bench/_step_found.html": "what a finding can be, in a card of 120 lines without it",
    "bench/_step_readings.html": "the readings of a step, in a card of 120 lines without them",
    "bench/_steps_order.html": "in which order the steps come, folded beside the step",
    "charges/_ways.html": "the ways of an estimate with their forms, in a page of 220 lines without it",
    "charges/_refusal.html": "the customer's no, on the page that hands back",
    "counter/_contacts.html": "calls, messages and notes, in a page of 175 lines without them",
    "counter/_told.html": "who was told what, in a line of 60 without it",
    "counter/_paid.html": "what was paid of a ticket, in a page of several parts",
    "counter/_visit.html": "what came in together, in a page of 190 lines without it",
    "counter/_unit_life.html": "what happened to a unit, in a page of 120 lines without it",
    "documents/_spring_of_sheet.html": "what the spring says in full, in a page of 200 lines without it",
    "documents/_ticket_documents.html": "papers of a ticket, in a page of 175 lines without them",
    "intervals/_ticket_services.html": "what a ticket counts as, in a page of 175 lines without it",
    "portal/_estimate.html": "what the customer answers, in a page of 100 lines without it",
    "bench/_which_batch.html": "of which batch a part is taken, in a page of 170 lines without it",
    "stores/_batches.html": "the batches of one part, in a page of 190 lines without them",
    "stores/_expected.html": "what tickets are likely to need of one part, in a page of 190 lines without it",
    "stores/_give.html": "giving a part to a ticket by hand, in a page of 190 lines without it",
    "stores/_order_past.html": "what became of an order, in a page of 130 lines without it",
    "stores/_row_extras.html": "what is seldom said of a row, in a page of 130 lines without it",
    "stores/_reorder_point.html": "what the last year suggests of one part, in a page of 170 lines without it",
    "portal/_ticket_link.html": "the customer's link, in a page of 175 lines without it",
    "moving/_afterwards.html": "what is left to do after an import, by its kind, in a page of 165 lines without it",
    "moving/_held.html": "what rows that are the same as one before are, in a page of 165 lines without it",
    "moving/_held_row.html": "what is said of one such row, in a cell of many",
    "moving/_quantities.html": "the names of quantities, of one kind of sheet alone",
    "office/_thing.html": "a line of the overview, with its rows and its cure",
    "office/_ticket_rows.html": "the table of the tickets behind a figure",
    "shop_network/_devices.html": "the steps for each kind of device, in a page of 70 lines without them",
}


@cache
def how_often() -> dict[str, int]:
    """Each fragment, and how often a template includes or extends it or code names it."""
    templates = [path for path in TEMPLATES.rglob("*") if path.suffix in {".html", ".svg", ".txt"}]
    fragments = [str(path.relative_to(TEMPLATES)) for path in templates if path.name.startswith("_")]
    texts = [path.read_text(encoding="utf-8") for path in templates]
    included = [name for text in texts for name in re.findall(r"{% include \"([^\"]+)\"", text)]
    extended = {name for text in texts for name in re.findall(r"{% extends \"([^\"]+)\"", text)}
    code = "\n".join(path.read_text(encoding="utf-8") for path in (BASE / "workshop").rglob("*.py"))
    return {
        name: included.count(name) + 2 * (name in extended) + 2 * (f'"{name}"' in code) for name in sorted(fragments)
    }


def test_every_fragment_is_worth_its_file() -> None:
    assert len(how_often()) > 60
    once = {name for name, uses in how_often().items() if uses < 2}
    assert once - set(KEPT) == set(), "Fold these into the page that includes them, or say here why they stay."


def test_every_reason_is_needed() -> None:
    once = {name for name, uses in how_often().items() if uses == 1}
    assert set(KEPT) - once == set(), "These are gone, or used more than once: take their reasons away."
