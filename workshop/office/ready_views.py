"""Office, Reminders, Ready: how the shop tells that something is ready, and when it is open."""

from __future__ import annotations

from django.db import transaction
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from workshop.counter.saving import edit_page
from workshop.office.ready_forms import ReadyTextForm
from workshop.promise.opening import opening_of, set_opening
from workshop.reminders.ready_text import FIELDS, edit_ready_text, ready_text_of
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def ready_text(request: ShopRequest) -> HttpResponse:
    """The wording and the hours, kept together: an unknown field or an hour that is none is refused beside it."""
    stored = ready_text_of(request.shop)
    opening = opening_of(request.shop, timezone.localdate())
    form = ReadyTextForm(request.POST) if request.method == "POST" else ReadyTextForm.of(stored, opening)

    @transaction.atomic
    def save(seen: int) -> None:
        edit_ready_text(shop=request.shop, seen_version=seen, **form.wording)
        set_opening(shop=request.shop, week=form.week)

    return edit_page(
        request,
        template="reminders/ready.html",
        form=form,
        version=stored.version,
        save=save,
        form_of=lambda record: ReadyTextForm.of(record, opening_of(request.shop, timezone.localdate())),
        done_url=reverse("office:ready_text"),
        said="The wording and the hours are saved.",
        context={"fields": FIELDS},
    )
