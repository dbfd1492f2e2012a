"""Importing checklists: choose a file or a zip, see what each would change, say yes."""

from __future__ import annotations

import base64
import binascii

from django import forms
from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from diagnosis.checklist_files import (
    ChecklistFate,
    ChecklistImportPlan,
    ChecklistPlanChanged,
    carry_out_checklist_import,
    plan_checklist_import,
)
from diagnosis.models import ChecklistDraft
from diagnosis.uploads import MOST_BYTES, UnreadableUpload
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


class ChecklistFileForm(forms.Form):
    """The file of a dry run."""

    file = forms.FileField(label="File", help_text="One .yaml file, or a .zip with several; at most 1 MB.")

    def clean_file(self) -> bytes:
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        if file.size is None or file.size > MOST_BYTES:
            raise forms.ValidationError("The file is larger than 1 MB.")
        return bytes(file.read())


class ConfirmChecklistsForm(forms.Form):
    """The file that was shown, carried along byte by byte, and the digest of its dry run."""

    content = forms.CharField(widget=forms.HiddenInput, max_length=MOST_BYTES * 4 // 3 + 4)
    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)

    def clean_content(self) -> bytes:
        try:
            return base64.b64decode(self.cleaned_data["content"], validate=True)
        except (binascii.Error, ValueError) as error:
            raise forms.ValidationError("The file did not arrive whole. Choose it again.") from error


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def import_file(request: ShopRequest) -> HttpResponse:
    """The form, and the dry run of the file that is sent. Nothing is written."""
    form = ChecklistFileForm(request.POST, request.FILES) if request.method == "POST" else ChecklistFileForm()
    if form.is_bound and form.is_valid():
        content: bytes = form.cleaned_data["file"]
        try:
            plan = plan_checklist_import(content)
        except UnreadableUpload as error:
            form.add_error("file", str(error))
        else:
            return _dry_run(request, plan, content)
    return render(request, "checklists/import.html", {"form": form}, status=422 if form.errors else 200)


@require_POST
@owner_only
def confirm_import(request: ShopRequest) -> HttpResponse:
    """Import what the dry run showed, or show a new dry run if that is not what would happen now."""
    form = ConfirmChecklistsForm(request.POST)
    problem = "The file did not arrive whole. Choose it again."
    if form.is_valid():
        content: bytes = form.cleaned_data["content"]
        try:
            plan = carry_out_checklist_import(content=content, digest=form.cleaned_data["digest"], by=request.user)
        except ChecklistPlanChanged as changed:
            return _dry_run(request, changed.plan, content, changed=True)
        except UnreadableUpload as error:
            problem = str(error)
        else:
            count = len(plan.to_write)
            messages.success(request, f"{count} checklist{'s are' if count != 1 else ' is'} imported and in use.")
            return redirect("office:checklists")
    return render(request, "checklists/import.html", {"form": ChecklistFileForm(), "problem": problem}, status=422)


def _dry_run(request: ShopRequest, plan: ChecklistImportPlan, content: bytes, *, changed: bool = False) -> HttpResponse:
    keys = [one.plan.key for one in plan.to_write if one.plan is not None]
    drafts = set(ChecklistDraft.objects.filter(key__in=keys).values_list("key", flat=True))
    encoded = base64.b64encode(content).decode("ascii")
    context = {
        "plan": plan,
        "counts": {fate.value: plan.count(fate) for fate in ChecklistFate},
        "files": [(one, one.plan is not None and one.plan.key in drafts) for one in plan.files],
        "confirmation": ConfirmChecklistsForm(initial={"content": encoded, "digest": plan.digest}),
        "changed": changed,
    }
    return render(request, "checklists/dry_run.html", context, status=409 if changed else 200)
