"""Steps of a draft: add one, change one, retire one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from diagnosis.checklist_files import shipped_cautions
from diagnosis.comparing import compare
from diagnosis.drafts import DraftRefused, change, plan_of_draft, retired, step_of, with_step
from diagnosis.layout import CautionPlan, LayoutError
from diagnosis.layout_fields import Fields
from diagnosis.layout_plans import OUTCOMES, PROOF, StepPlan
from diagnosis.layout_reading import read_caution
from diagnosis.layout_safeguards import safeguard_problems
from diagnosis.layout_writing import caution_data
from workshop.checklists.drafting import save_draft
from workshop.checklists.layout_form import seen_now
from workshop.checklists.pages import DraftPage, conflict_words, draft_page
from workshop.checklists.sharing import lists_with
from workshop.checklists.step_form import StepForm
from workshop.checklists.step_preview import SHOW, preview_of_step, preview_of_typed
from workshop.checklists.step_rows import LESS, MORE, newest_field, with_rows_asked
from workshop.checklists.step_sections import sections_of
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only
from workshop.web.versions import StaleVersion

CONFLICT, REFUSED = 409, 422


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def add(request: ShopRequest, key: str, kind: str) -> HttpResponse:
    """A step of a kind, which stays its kind. It comes last; move it from there."""
    page = draft_page(key)
    if kind not in OUTCOMES:
        return redirect("office:draft", key)
    return _edit(request, page, {"key": "", "kind": kind})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def edit(request: ShopRequest, key: str, step: str) -> HttpResponse:
    page = draft_page(key)
    page.step(step)
    return _edit(request, page, step_of(page.data, step))


def _edit(request: ShopRequest, page: DraftPage, raw: Mapping[str, Any]) -> HttpResponse:
    cautions, also = _cautions(page), lists_with(but=page.draft.key)

    def form_of(sent: QueryDict | None) -> StepForm:
        return StepForm(
            sent,
            raw=raw,
            plan=page.plan,
            cautions=cautions,
            lost=_lost(page),
            # A step that is new here is new everywhere: under a key that another list has it would be that list's step.
            taken={*also, *({step.key for step in page.before.steps} if page.before else ())},
            initial={"seen": page.draft.version},
        )

    words = {key: caution_data(one) for key, one in cautions.items()}
    context = {"page": page, "raw": raw, "also_in": also.get(raw["key"], ())}
    sent = request.POST if request.method == "POST" else None
    if sent is not None and SHOW in sent:
        context["preview"] = preview_of_typed(page, form_of(sent), words, request.shop)
        return _show_as_typed(request, form_of, sent, context)
    context["preview"] = preview_of_step(page.plan, raw["key"], request.shop)
    if sent is not None and (MORE in sent or LESS in sent):
        return _show_as_typed(request, form_of, sent, context)
    form = form_of(sent)
    meanwhile = ""
    theirs: tuple[str, ...] = ()
    if form.is_bound and form.is_valid():
        made = form.raw()
        try:
            changed = change(page.data, with_step(page.data, made, words), page.before, step=made["key"])
            save_draft(draft=page.draft, data=changed, by=request.user, seen_version=form.cleaned_data["seen"])
        except DraftRefused as refused:
            for problem in refused.problems:
                _refuse(form, problem, made["key"], page)
        except StaleVersion:
            before, page = page, draft_page(page.draft.key)
            meanwhile = conflict_words(page.draft)
            theirs = _difference(before, page, made)
            form.put_in_place_of(page.draft.version)
        else:
            messages.success(request, f"“{made['title']}” is saved in the draft.")
            here = "stay" in request.POST
            return redirect("office:draft_step", page.draft.key, made["key"]) if here else redirect(
                "office:draft", page.draft.key
            )  # fmt: skip
    context |= {"page": page, "form": form, "sections": sections_of(form), "meanwhile": meanwhile, "theirs": theirs}
    status = CONFLICT if meanwhile else REFUSED if form.errors else 200
    return render(request, "checklists/step.html", context, status=status)


def _show_as_typed(
    request: ShopRequest, form_of: Callable[[QueryDict | None], StepForm], sent: QueryDict, context: dict[str, Any]
) -> HttpResponse:
    """What is typed, with the rows or the preview that were asked for; it is neither judged nor saved."""
    if SHOW in sent and request.htmx:
        return render(request, "checklists/_step_preview.html", context)
    rows, opened = with_rows_asked(sent)
    form = form_of(rows)
    form.leave_unjudged()
    newest = newest_field(rows, opened) if MORE in sent else ""
    if newest in form.fields:
        form.fields[newest].widget.attrs["data-focus"] = ""
    return render(request, "checklists/step.html", {**context, "form": form, "sections": sections_of(form, opened)})


class RetireForm(forms.Form):
    """Which step takes the place of one that goes."""

    seen = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    replaced_by = forms.ChoiceField(label="Replaced by", required=False)

    def __init__(self, *args: Any, others: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", "nothing"), *others]
        self.fields["replaced_by"] = forms.ChoiceField(
            label="Replaced by",
            required=False,
            choices=choices,
            help_text="What came after this step, or was led to it, goes to the step you choose.",
        )


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def retire(request: ShopRequest, key: str, step: str) -> HttpResponse:
    """Take a step out of the draft. A safety or proof step needs one in its place."""
    page = draft_page(key)
    gone = page.step(step)
    others = [(one.key, one.title + _marks(one)) for one in page.plan.steps if one.key != step]
    form = RetireForm(
        request.POST if request.method == "POST" else None, others=others, initial={"seen": page.draft.version}
    )
    meanwhile = ""
    if form.is_bound and form.is_valid():
        try:
            changed = change(page.data, retired(page.data, step, form.cleaned_data["replaced_by"]), page.before)
            save_draft(draft=page.draft, data=changed, by=request.user, seen_version=form.cleaned_data["seen"])
        except DraftRefused as refused:
            for problem in refused.problems:
                form.add_error("replaced_by", _sentence(problem))
        except StaleVersion:
            page = draft_page(key)
            meanwhile = conflict_words(page.draft)
            form.data = seen_now(form.data, page.draft.version)
        else:
            messages.success(request, f"“{gone.title}” is archived in the draft.")
            return redirect("office:draft", key)
    rests = [one.title for one in page.plan.steps if step in one.needs]
    led = [one.title for one in page.plan.steps if any(answer.next == step for answer in one.answers.values())]
    context = {"page": page, "form": form, "gone": gone, "rests": rests, "led": led, "meanwhile": meanwhile}
    context["also_in"] = lists_with(but=key).get(step, ())
    status = CONFLICT if meanwhile else REFUSED if form.errors else 200
    return render(request, "checklists/retire.html", context, status=status)


def _marks(step: StepPlan) -> str:
    return (" (safety step)" if step.safety else "") + (" (proof)" if step.kind == PROOF else "")


def _cautions(page: DraftPage) -> dict[str, CautionPlan]:
    """Those that ship, in the words of the draft where it has its own."""
    own = {key: read_caution(key, Fields(one, file="", step="")) for key, one in page.data.get("cautions", {}).items()}
    return {**shipped_cautions(), **own}


def _lost(page: DraftPage) -> list[tuple[str, str]]:
    """Safety and proof steps of the version in use that the draft has lost, or already replaces."""
    if page.before is None:
        return []
    lost = {problem.step for problem in safeguard_problems("", page.before, page.plan) if problem.field != "place"}
    lost |= {key for step in page.plan.steps for key in step.replaces}
    return [(step.key, step.title) for step in page.before.steps if step.key in lost]


def _refuse(form: StepForm, problem: LayoutError, key: str, page: DraftPage) -> None:
    """Beside the field if it is about this step, else above the form with the step it is about."""
    if problem.step == key:
        form.refuse(problem)
        return
    titles = {step.key: step.title for step in page.plan.steps}
    form.add_error(None, f"“{titles.get(problem.step, problem.step)}”: {_sentence(problem)}")


def _difference(before: DraftPage, now: DraftPage, made: Mapping[str, Any]) -> tuple[str, ...]:
    """What the other person changed in the draft, as far as it is told from what is stored."""
    mine = with_step(now.data, made, {key: {"title": "x", "text": "x"} for key in made.get("cautions", [])})
    try:
        compared = compare(now.plan, plan_of_draft(mine))
    except LayoutError:
        return ()
    return tuple(detail for step in compared.steps for detail in step.details)


def _sentence(problem: LayoutError) -> str:
    said = problem.beside[:1].upper() + problem.beside[1:]
    return said if said.endswith(".") else f"{said}."
