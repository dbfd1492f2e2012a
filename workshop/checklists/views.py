"""The checklists of the shop: the list, one with its versions, export, and what the counter is offered."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from diagnosis.checklist_files import export_text, export_zip
from diagnosis.models import Checklist
from diagnosis.stored import in_use, plan_of
from workshop.checklists.drafting import offer_complaint_again, retire_complaint, start_draft
from workshop.checklists.pages import listed_checklists, version_shown
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_GET
@owner_only
def checklists(request: ShopRequest) -> HttpResponse:
    return render(request, "checklists/checklists.html", {"lines": listed_checklists(request.shop)})


@require_GET
@owner_only
def checklist(request: ShopRequest, key: str) -> HttpResponse:
    """The version in use, or with ?version= another and what it changes against the one in use."""
    number = key_from(request.GET.get("version"))
    return render(request, "checklists/checklist.html", {"shown": version_shown(key, number, request.shop)})


@require_GET
@owner_only
def export_one(request: ShopRequest, key: str) -> HttpResponse:
    current = get_object_or_404(Checklist.objects.select_related("complaint"), key=key, is_current=True)
    return _attachment(export_text(plan_of(current)).encode(), "application/yaml", f"{key}.yaml")


@require_GET
@owner_only
def export_all(request: ShopRequest) -> HttpResponse:
    content = export_zip(one.plan for one in in_use().values())
    return _attachment(content, "application/zip", f"checklists-{timezone.localdate():%Y-%m-%d}.zip")


@require_POST
@owner_only
def begin_draft(request: ShopRequest, key: str) -> HttpResponse:
    """A draft from the version in use, or from the one whose number is sent."""
    number = key_from(request.POST.get("number"))
    wanted = {"is_current": True} if number is None else {"number": number}
    version = get_object_or_404(Checklist.objects.select_related("complaint"), key=key, **wanted)
    draft = start_draft(checklist=version, by=request.user)
    if draft.based_on_id != version.pk:
        messages.warning(request, "There was a draft of this checklist already. Put it in use or discard it first.")
    return redirect("office:draft", key)


@require_POST
@owner_only
def retire(request: ShopRequest, key: str) -> HttpResponse:
    current = get_object_or_404(Checklist.objects.select_related("complaint"), key=key, is_current=True)
    retire_complaint(complaint=current.complaint, by=request.user)
    messages.success(request, f"“{current.complaint}” is no longer offered. Tickets that have it keep it.")
    return redirect("office:checklist", key)


@require_POST
@owner_only
def offer_again(request: ShopRequest, key: str) -> HttpResponse:
    current = get_object_or_404(Checklist.objects.select_related("complaint"), key=key, is_current=True)
    offer_complaint_again(complaint=current.complaint)
    messages.success(request, f"“{current.complaint}” is offered at the counter again.")
    return redirect("office:checklist", key)


def _attachment(content: bytes, kind: str, name: str) -> HttpResponse:
    return HttpResponse(content, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})
