"""Office, Shop, Backups: where they are kept, and one made and read back now."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED
from workshop.running.backup import BackupFailed, BackupMade, make_backup
from workshop.running.backup_place import (
    FolderChangedMeanwhile,
    FolderRefused,
    backup_folder,
    backup_place,
    choose_folder,
    shares_disk,
)
from workshop.running.backups_standing import last_backup
from workshop.staff.security_log import Did, note_by
from workshop.web.confirmed import confirmed
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


class FolderForm(forms.Form):
    """A folder of the server for backups."""

    folder = forms.CharField(
        label="Folder for backups", max_length=400, help_text="Of the server, best on another disk: /mnt/backup.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
def backups(request: ShopRequest) -> HttpResponse:
    """Choose a folder by making a backup in it; or make one where they are kept already."""
    place = backup_place()
    form = FolderForm(initial={"folder": str(place.folder)})
    if request.method != "POST":
        return _page(request, form)
    if request.POST.get("now"):
        try:
            _say(request, make_backup(folder=backup_folder()))
        except BackupFailed as failed:
            messages.error(request, str(failed))
        return redirect("office:backups")
    form = FolderForm(request.POST)
    if place.by_server or not form.is_valid():
        return _page(request, form, REFUSED)
    try:
        _say(request, choose_folder(typed=form.cleaned_data["folder"], seen=request.POST.get("seen", "")))
        note_by(request, Did.BACKUPS_MOVED, folder=form.cleaned_data["folder"])
    except FolderChangedMeanwhile:
        form.add_error("folder", f"Another owner chose {backup_place().folder} meanwhile. Save again to keep yours.")
        return _page(request, form, CHANGED_MEANWHILE)
    except (FolderRefused, BackupFailed) as refused:
        form.add_error("folder", str(refused))
        return _page(request, form, REFUSED)
    return redirect("office:backups")


def _say(request: ShopRequest, made: BackupMade) -> None:
    facts = made.manifest
    messages.success(
        request, f"{made.path} was made and read back: {facts.rows} rows and {len(facts.files)} files are whole."
    )


def _page(request: ShopRequest, form: FolderForm, status: int = 200) -> HttpResponse:
    place = backup_place()
    context = {
        "form": form,
        "place": place,
        "shares_disk": shares_disk(place.folder),
        "last": last_backup(timezone.now()),
    }
    return render(request, "office/backups.html", context, status=status)
