"""Office, Reminders: the shop's wording and the owner's figures."""

from __future__ import annotations

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from workshop.counter.saving import edit_page
from workshop.office.reminder_forms import FiguresForm, ReminderTextForm
from workshop.reminders.editing import edit_figures, edit_text, figures_record
from workshop.reminders.models import ReminderText
from workshop.reminders.text import FIELDS
from workshop.reminders.wording import text_of
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def text(request: ShopRequest) -> HttpResponse:
    """The wording; an unknown field is refused beside the text."""
    stored = text_of(request.shop)
    form = ReminderTextForm(request.POST or None, initial=_as_typed(stored))
    return edit_page(
        request,
        template="reminders/text.html",
        form=form,
        version=stored.version,
        save=lambda seen: edit_text(shop=request.shop, seen_version=seen, **form.cleaned_data),
        form_of=lambda record: ReminderTextForm(initial=_as_typed(record)),
        done_url=reverse("office:reminders_text"),
        said="The wording is saved.",
        context={"fields": FIELDS},
    )


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def figures(request: ShopRequest) -> HttpResponse:
    """What shortens an interval, and how the range of a forecast is made."""
    stored = figures_record(request.shop)
    version = stored.version
    form = FiguresForm(request.POST or None, instance=stored)
    return edit_page(
        request,
        template="reminders/figures.html",
        form=form,
        version=version,
        save=lambda seen: edit_figures(
            shop=request.shop,
            seen_version=seen,
            coming_up_days=form.cleaned_data["coming_up_days"],
            **form.factors(),
        ),
        form_of=lambda record: FiguresForm(instance=record),
        done_url=reverse("office:reminders_figures"),
        said="The forecast settings are saved.",
    )


def _as_typed(stored: ReminderText) -> dict[str, str]:
    return {"subject": stored.subject, "body": stored.body}
