"""What the pages of the checklists show, each gathered in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Count, IntegerField, OuterRef, Subquery
from django.http import Http404
from django.shortcuts import get_object_or_404

from diagnosis.checking import answers_in_words, broken_rules, unit_in_words
from diagnosis.comparing import Comparison, compare
from diagnosis.drafts import DraftData, plan_of_draft, problems_of
from diagnosis.layout import ChecklistPlan, LayoutError
from diagnosis.layout_facts import facts_in_words
from diagnosis.layout_plans import StepPlan
from diagnosis.models import Checklist, ChecklistDraft
from diagnosis.stored import InUse, in_use, plan_of
from diagnosis.unit_invariants import DANGERS, REASONS
from workshop.checklists.sharing import SharedIn, shared_with
from workshop.signed.standing import ReadThrough, read_through, read_throughs
from workshop.staff.models import Shop, User
from workshop.tickets.models import TicketRun

MOST_JOBS_COUNTED = 1_000


@dataclass(frozen=True)
class Listed:
    """A checklist in the list: its version in use, its draft, and a shipped text that is not in use."""

    key: str
    title: str
    checklist: Checklist | None
    draft: ChecklistDraft | None
    shipped: Checklist | None
    read: ReadThrough | None = None


def listed_checklists(shop: Shop) -> list[Listed]:
    """Every checklist in the order of the counter, then drafts of new ones; four queries."""
    current = (
        Checklist.objects.filter(is_current=True)
        .select_related("complaint", "made_by")
        .annotate(step_count=Count("steps"))
        .order_by("complaint__position", "title")
    )
    drafts = {draft.key: draft for draft in ChecklistDraft.objects.select_related("changed_by")}
    shipped = {
        one.key: one
        for one in Checklist.objects.filter(origin=Checklist.Origin.SHIPPED, is_current=False).order_by("number")
    }
    read = read_throughs(shop, current)
    lines = [
        Listed(one.key, one.title, one, drafts.pop(one.key, None), newer(shipped.get(one.key), one), read[one.pk])
        for one in current
    ]
    return lines + [Listed(draft.key, draft.data["checklist"]["title"], None, draft, None) for draft in drafts.values()]


def newer(shipped: Checklist | None, current: Checklist) -> Checklist | None:
    """A shipped text that came after the version in use."""
    return shipped if shipped is not None and shipped.number > current.number else None


@dataclass(frozen=True)
class OneVersion:
    """A version of a checklist with all the others, and what it changes against the one in use."""

    checklist: Checklist
    plan: ChecklistPlan
    versions: Sequence[Checklist]
    draft: ChecklistDraft | None
    changes: Comparison | None
    read: ReadThrough
    most_jobs_counted = MOST_JOBS_COUNTED

    @property
    def steps(self) -> list[dict[str, Any]]:
        return step_lines(self.plan)


class _CountOf(Subquery):
    """How many rows a query has that ends after so many: it reads no more of them."""

    template = "(SELECT count(*) FROM (%(subquery)s) counted)"
    output_field = IntegerField()


def version_shown(key: str, number: int | None, shop: Shop) -> OneVersion:
    """A version, or the one in use, with how many of the shop's own jobs were worked with it. Raises Http404.

    Jobs are counted up to MOST_JOBS_COUNTED.
    """
    own = TicketRun.objects.filter(ticket__shop=shop, run__checklist=OuterRef("pk")).order_by().values("pk")
    every = Checklist.objects.filter(key=key).select_related("complaint", "made_by")
    every = every.annotate(run_count=_CountOf(own[:MOST_JOBS_COUNTED]))
    versions = list(every.order_by("-number"))
    wanted = {"is_current": True} if number is None else {"number": number}
    shown = get_object_or_404(every, key=key, **wanted)
    plan = plan_of(shown)
    current = next((one for one in versions if one.is_current), None)
    changes = compare(plan_of(current), plan) if current is not None and current.pk != shown.pk else None
    draft = ChecklistDraft.objects.filter(key=key).select_related("changed_by").first()
    return OneVersion(shown, plan, versions, draft, changes, read_through(shop, shown))


def step_lines(plan: ChecklistPlan, also_in: Mapping[str, Sequence[str]] | None = None) -> list[dict[str, Any]]:
    """Steps as a table shows them; `also_in` has the titles of the other lists with a step, by its key."""
    titles = {step.key: step.title for step in plan.steps}
    causes = {cause.key: cause.title for cause in plan.causes}
    return [
        {
            "step": step,
            "only_if": facts_in_words(step.only_if),
            "needs": [titles.get(key, key) for key in step.needs],
            "also_in": (also_in or {}).get(step.key, ()),
            "finds": [f"{causes.get(key, key)} {chance:g}" for key, chance in step.ends_search.items()],
        }
        for step in plan.steps
    ]


@dataclass(frozen=True)
class DraftPage:
    """A draft with what is wrong with it and the version it would take the place of; `in_use` is None for a new one."""

    draft: ChecklistDraft
    in_use: InUse | None

    @property
    def data(self) -> DraftData:
        data: DraftData = self.draft.data
        return data

    @cached_property
    def plan(self) -> ChecklistPlan:
        """As the draft was when the page was gathered."""
        return plan_of_draft(self.data)

    @property
    def before(self) -> ChecklistPlan | None:
        return self.in_use.plan if self.in_use else None

    @property
    def number(self) -> int:
        """Of the version in use; 0 for none."""
        return self.in_use.checklist.number if self.in_use else 0

    @property
    def title(self) -> str:
        return str(self.data["checklist"]["title"])

    def problems(self) -> list[LayoutError]:
        return problems_of(self.data, self.before)

    def problem_lines(self) -> list[dict[str, Any]]:
        """The problems as the page lists them, with the title of the step each is about, if the draft has it."""
        titles = {step.key: step.title for step in self.plan.steps}
        return [{"problem": one, "step_title": titles.get(one.step, "")} for one in self.problems()]

    def broken(self) -> list[dict[str, Any]]:
        """The rules that somebody following the draft could break, each with the way there; none while it has problems.

        Going through it takes about half a second, once for each text of the draft.
        """
        if self.problems():
            return []
        titles = {step.key: step.title for step in self.plan.steps}
        return [
            {
                "one": one,
                "is_danger": one.rule in DANGERS,
                "reason": REASONS[one.rule],
                "step_title": titles.get(one.step, ""),
                "unit": unit_in_words(one),
                "way": answers_in_words(one, titles),
            }
            for one in broken_rules(self.plan)
        ]

    def changes(self) -> Comparison:
        return compare(self.before, self.plan)

    def shared(self) -> list[SharedIn]:
        """What it changes in other lists, for they have the same steps; none while it has problems of its own.

        Where that is more than words each of them is gone through, some seconds for a large one.
        """
        return [] if self.problems() else shared_with(self.before, self.plan)

    def step(self, key: str) -> StepPlan:
        """Raises Http404."""
        steps: Mapping[str, StepPlan] = {step.key: step for step in self.plan.steps}
        if key not in steps:
            raise Http404("The draft has no such step.")
        return steps[key]


def draft_page(key: str) -> DraftPage:
    """A draft and the version in use; raises Http404."""
    draft = get_object_or_404(ChecklistDraft.objects.select_related("changed_by", "based_on"), key=key)
    return DraftPage(draft, in_use([key]).get(key))


def other_version_words(page: DraftPage, seen_number: int) -> str:
    """Which version was put in use meanwhile: of this list, or of another that changes with it."""
    if page.number != seen_number:
        return f"Version {page.number} was put in use meanwhile. Compare with it before you go on."
    return "Of a checklist that shares steps with this one another version was put in use meanwhile. Look at it again."


def conflict_words(draft: ChecklistDraft) -> str:
    """Who changed the draft meanwhile."""
    who = draft.changed_by if isinstance(draft.changed_by, User) else "Someone"
    return f"{who} changed this draft after you opened it. Yours is not saved yet."
