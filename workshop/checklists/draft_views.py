"""A draft: its page, its head, a new complaint, the order of its steps, its preview, and putting it in use."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from diagnosis.checklist_files import reworded_in
from diagnosis.drafts import DraftRefused, change, moved, with_head
from diagnosis.models import Cause, Checklist
from diagnosis.stored import in_use
from specs.models import SuspensionModel
from workshop.checklists.drafting import (
    NotReady,
    OtherVersionInUse,
    drop_draft,
    put_in_use,
    save_draft,
    start_new,
)
from workshop.checklists.head_form import HeadForm, NewComplaintForm
from workshop.checklists.pages import DraftPage, conflict_words, draft_page, other_version_words, step_lines
from workshop.checklists.preview import Preview
from workshop.checklists.sharing import lists_with, marks_of
from workshop.web.fields import WholeNumberField
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only
from workshop.web.versions import StaleVersion

CONFLICT, REFUSED = 409, 422


class SeenDraftForm(forms.Form):
    """The version of the draft that was seen, with the version in use that it was compared with."""

    seen = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    number = forms.IntegerField(min_value=0, required=False, widget=forms.HiddenInput)
    others = forms.CharField(max_length=10_000, required=False, widget=forms.HiddenInput)
    place = WholeNumberField(min_value=1, max_value=999, required=False)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def new(request: ShopRequest) -> HttpResponse:
    """A complaint that is not there yet: its draft."""
    form = NewComplaintForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        started = start_new(by=request.user, **form.cleaned_data)
        messages.success(request, "The draft is begun. Now its causes, then the steps that find them.")
        return redirect("office:draft_head" if not form.cleaned_data["is_routine"] else "office:draft", started.key)
    return render(request, "checklists/new.html", {"form": form}, status=REFUSED if form.errors else 200)


@require_GET
@owner_only
def draft(request: ShopRequest, key: str) -> HttpResponse:
    return show_draft(request, draft_page(key))


def show_draft(request: ShopRequest, page: DraftPage, status: int = 200, **extra: Any) -> HttpResponse:
    """The draft with its steps and what is wrong with it."""
    shipped = Checklist.objects.filter(
        key=page.draft.key, origin=Checklist.Origin.SHIPPED, is_current=False, number__gt=page.number
    )
    context = {
        "page": page,
        "draft": page.draft,
        "steps": step_lines(page.plan, lists_with(but=page.draft.key)),
        "problems": page.problem_lines(),
        "broken": page.broken(),
        "shipped": shipped.order_by("-number").first(),
        **extra,
    }
    return render(request, "checklists/draft.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def head(request: ShopRequest, key: str) -> HttpResponse:
    """Complaint, title and causes."""
    page = draft_page(key)
    known = Cause.objects.in_bulk(field_name="key")
    form = HeadForm(
        request.POST if request.method == "POST" else None,
        draft=page.data,
        known={
            one: words for one, words in known.items() if one not in {cause["key"] for cause in page.data["causes"]}
        },
        initial={"seen": page.draft.version},
    )
    meanwhile = ""
    if form.is_bound and form.is_valid():
        try:
            changed = change(page.data, with_head(page.data, **form.parts()), page.before)
            save_draft(draft=page.draft, data=changed, by=request.user, seen_version=form.cleaned_data["seen"])
        except DraftRefused as refused:
            form.add_error(None, str(refused))
        except StaleVersion:
            page = draft_page(key)
            meanwhile = conflict_words(page.draft)
            form.put_in_place_of(page.draft.version)
        else:
            messages.success(request, "Saved in the draft.")
            return redirect("office:draft", key)
    orphans = [problem.beside for problem in page.problems() if problem.field.startswith("causes")]
    context = {"page": page, "form": form, "meanwhile": meanwhile, "orphans": orphans}
    status = CONFLICT if meanwhile else REFUSED if form.errors else 200
    return render(request, "checklists/head.html", context, status=status)


@require_POST
@owner_only
def move(request: ShopRequest, key: str, step: str) -> HttpResponse:
    """A step to another place of the list."""
    page = draft_page(key)
    page.step(step)
    form = SeenDraftForm(request.POST)
    refusal = {"moved_key": step, "moved_place": request.POST.get("place", "")[:40]}
    if not form.is_valid() or form.cleaned_data["place"] is None:
        said = f"Enter a place from 1 to {len(page.plan.steps)}."
        return show_draft(request, page, REFUSED, move_refused=said, **refusal)
    try:
        changed = change(page.data, moved(page.data, step, form.cleaned_data["place"] - 1), page.before)
        save_draft(draft=page.draft, data=changed, by=request.user, seen_version=form.cleaned_data["seen"])
    except DraftRefused as refused:
        said = " ".join(f"{one.beside[:1].upper()}{one.beside[1:]}." for one in refused.problems).replace("..", ".")
        return show_draft(request, page, REFUSED, move_refused=said, **refusal)
    except StaleVersion:
        page = draft_page(key)
        return show_draft(request, page, CONFLICT, conflict=conflict_words(page.draft), **refusal)
    return redirect("office:draft", key)


@require_GET
@owner_only
def preview(request: ShopRequest, key: str) -> HttpResponse:
    """A step as the tablet would show it on units of a model."""
    page = draft_page(key)
    suits = page.plan.complaint.suits
    models = list(SuspensionModel.objects.filter(kind__in=suits).order_by("maker", "name", "year_from"))
    asked = request.GET.get("model", "")
    chosen = next((model for model in models if str(model.pk) == asked), None)
    shown = Preview(page.plan, chosen, request.shop, request.GET.get("step", "")).context()
    context = {"page": page, "models": models, "chosen": chosen, "shown": shown, **shown}
    return render(request, "checklists/preview.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def use(request: ShopRequest, key: str) -> HttpResponse:
    """What would change against the version in use; sent, it is the next version."""
    page = draft_page(key)
    conflict = ""
    if request.method == "POST":
        form = SeenDraftForm(request.POST)
        seen: dict[str, Any] = form.cleaned_data if form.is_valid() else {"seen": 0, "number": 0, "others": ""}
        try:
            own, *others = put_in_use(
                draft=page.draft,
                by=request.user,
                seen_version=seen["seen"],
                seen_number=seen["number"] or 0,
                seen_others=seen["others"],
            )
        except NotReady:
            page = draft_page(key)
        except StaleVersion:
            page = draft_page(key)
            conflict = f"{page.draft.changed_by or 'Someone'} changed this draft after you opened it. Look at it again."
        except OtherVersionInUse:
            page = draft_page(key)
            conflict = other_version_words(page, seen["number"] or 0)
        else:
            also = f", and so are the next versions of {len(others)} that share its steps" if others else ""
            messages.success(
                request, f"Version {own.number} is in use{also}. Jobs already begun keep the wording they have."
            )
            return redirect("office:checklist", key)
    broken, shared = page.broken(), page.shared()
    context = {
        "page": page,
        "shared": shared,
        "is_refused_elsewhere": any(one.problems for one in shared),
        "changes": page.changes(),
        "problems": page.problem_lines(),
        "broken": broken,
        "is_dangerous": any(line["is_danger"] for line in broken),
        "also_in": reworded_in(page.plan, in_use()),
        "conflict": conflict,
        "form": SeenDraftForm(initial={"seen": page.draft.version, "number": page.number, "others": marks_of(shared)}),
    }
    refused = request.method == "POST"
    status = CONFLICT if conflict else REFUSED if refused else 200
    return render(request, "checklists/use.html", context, status=status)


@require_POST
@owner_only
def drop(request: ShopRequest, key: str) -> HttpResponse:
    """Throw the draft away."""
    page = draft_page(key)
    form = SeenDraftForm(request.POST)
    try:
        drop_draft(draft=page.draft, seen_version=form.cleaned_data["seen"] if form.is_valid() else 0)
    except StaleVersion:
        page = draft_page(key)
        return show_draft(request, page, CONFLICT, conflict=conflict_words(page.draft))
    messages.success(request, f"The draft of “{page.title}” is discarded.")
    return redirect("office:checklist", key) if page.in_use else redirect("office:checklists")
