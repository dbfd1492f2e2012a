"""The shared devices at which people change by a short code: let in, listed and ended by an owner."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import REFUSED, put_beside_fields
from workshop.staff.device_models import Device
from workshop.staff.devices import device_of, end, give_cookie, let_device_in
from workshop.staff.security_log import Did, note_by
from workshop.staff.sessions import note_device
from workshop.web.confirmed import confirmed
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only

MOST_ENDED = 12


class DeviceForm(forms.Form):
    """The name by which a device is found again in the list."""

    name = forms.CharField(
        label="Name of this device",
        max_length=60,
        help_text="What stands on it, such as “Bench tablet 2”.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
@sent_once
def devices(request: ShopRequest) -> HttpResponse:
    """Which devices are let in; and letting in the one that this page is opened on."""
    this = device_of(request)
    form = DeviceForm(request.POST if request.method == "POST" else None)
    if form.is_bound and this is not None:
        messages.info(request, f"This device is let in already, as {this}.")
        return redirect("office:devices")
    if form.is_bound and form.is_valid():
        try:
            with transaction.atomic():
                note_by(request, Did.DEVICE_LET_IN, device=form.cleaned_data["name"])
                device, secret = let_device_in(shop=request.shop, name=form.cleaned_data["name"], by=request.user)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            note_device(request, device)
            messages.success(request, f"{device} is let in. Whoever has a short code can change person on it now.")
            response = redirect("office:devices")
            give_cookie(response, request, secret)
            return response
    known = Device.objects.filter(shop=request.shop).select_related("let_in_by", "ended_by")
    context = {
        "form": form,
        "this": this,
        "devices": known.filter(ended_at__isnull=True),
        "ended": known.filter(ended_at__isnull=False)[:MOST_ENDED],
    }
    return render(request, "office/devices.html", context, status=REFUSED if form.errors else 200)


@require_POST
@owner_only
def device_end(request: ShopRequest, pk: int) -> HttpResponse:
    """A device is let in no longer, and whoever is signed in on it is not; pressed twice nothing more happens."""
    device = get_object_or_404(Device, pk=pk, shop=request.shop)
    with transaction.atomic():
        note_by(request, Did.DEVICE_ENDED, device=device.name)
        if not (ended := end(device=device, by=request.user)):
            transaction.set_rollback(True)
    if ended:
        messages.success(request, f"{device} is ended: nobody is signed in on it, and no short code opens it.")
    else:
        messages.info(request, f"{device} was ended already.")
    return redirect("office:devices")
