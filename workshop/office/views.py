"""The Office: the owner's overview and the shop's settings."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from workshop.counter.saving import edit_page
from workshop.office.forms import ShopForm
from workshop.office.overview import overview_of
from workshop.staff.security_log import Did, note_by
from workshop.web.confirmed import confirmed
from workshop.web.public_address import server_answers_to
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_GET
@owner_only
def overview(request: ShopRequest) -> HttpResponse:
    today = timezone.localdate()
    return render(request, "office/overview.html", {"overview": overview_of(request.shop, today), "today": today})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
def shop_settings(request: ShopRequest) -> HttpResponse:
    version = request.shop.version
    form = ShopForm(request.POST if request.method == "POST" else None, instance=request.shop)

    def save(seen: int) -> None:
        changed = ",".join(form.changed_data)
        with transaction.atomic():
            note_by(request, Did.SHOP_CHANGED, fields=changed)
            form.save_settings(seen)
        for words in form.followed:
            messages.info(request, words)
        address = form.cleaned_data["public_address"]
        if address and not server_answers_to(address):
            messages.warning(
                request,
                f"This server does not answer to {address} yet. Unless the proxy in front passes another name on, set "
                "ALLOWED_HOSTS on the server, or customers’ links end in an error.",
            )

    return edit_page(
        request,
        template="office/shop_settings.html",
        form=form,
        version=version,
        save=save,
        form_of=lambda record: ShopForm(instance=record),
        done_url=reverse("office:shop_settings"),
        said="The shop’s settings are saved.",
    )
