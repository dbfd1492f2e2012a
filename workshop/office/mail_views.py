"""Office, Shop, Mail: the mail server, tried by a letter whose code comes back before it is used."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED
from workshop.office.mail_forms import MailCodeForm, MailForm, TestLetterForm
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.mail_models import MailSettings
from workshop.reminders.mail_server import MailRefused
from workshop.reminders.mail_setting import (
    ChangedMeanwhile,
    WrongMailCode,
    letter_arrived,
    letter_under_way,
    mail_in_use,
    sender_of_server,
    set_by_server,
    try_mail,
    try_mail_of_server,
)
from workshop.staff.security_log import Did, note_by
from workshop.web.confirmed import confirmed
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
def mail(request: ShopRequest) -> HttpResponse:
    """What is in use, and a test letter by another server; nothing is used before the letter's code came back."""
    if request.method == "POST" and not request.shop.is_demo:
        return _try(request)
    return _page(request, form=_form(request))


def _form(request: ShopRequest) -> forms.Form:
    if set_by_server():
        return TestLetterForm(initial={"letter_to": request.user.email or request.shop.email})
    return MailForm.of(request.shop, request.user, mail_in_use(request.shop))


def _try(request: ShopRequest) -> HttpResponse:
    shop = request.shop
    by_server = set_by_server()
    form = TestLetterForm(request.POST) if by_server else MailForm(request.POST, shop=shop, kept=mail_in_use(shop))
    if form.is_valid():
        letter_to = form.cleaned_data["letter_to"]
        try:
            if isinstance(form, MailForm):
                tried = try_mail(shop=shop, wanted=form.wanted, letter_to=letter_to, by=request.user)
            else:
                tried = try_mail_of_server(shop=shop, letter_to=letter_to, by=request.user)
        except MailRefused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        else:
            note_by(request, Did.MAIL_TRIED, host=tried.host)
            return redirect("office:mail")
    return _page(request, form=form, status=REFUSED)


@require_POST
@owner_only
@confirmed
def arrived(request: ShopRequest) -> HttpResponse:
    """The code of the letter."""
    form = MailCodeForm(request.POST)
    if form.is_valid():
        try:
            used = letter_arrived(shop=request.shop, code=form.cleaned_data["code"], by=request.user)
        except ChangedMeanwhile as changed:
            messages.error(request, str(changed))
            return _page(request, form=_form(request), status=CHANGED_MEANWHILE)
        except WrongMailCode as wrong:
            form.add_error("code", str(wrong))
        else:
            note_by(request, Did.MAIL_CHANGED, host=used.host)
            said = "the letter arrived." if used.by_server else f"letters leave by {used.host} from now on."
            messages.success(request, f"Mail works: {said}")
            return redirect("office:mail")
    return _page(request, form=_form(request), code_form=form, status=REFUSED)


def _page(
    request: ShopRequest, *, form: forms.Form, code_form: MailCodeForm | None = None, status: int = 200
) -> HttpResponse:
    shop, by_server = request.shop, set_by_server()
    arrived_by = MailSettings.objects.filter(shop=shop, by_server=by_server, arrived_at__isnull=False)
    context = {
        "form": form,
        "code_form": code_form or MailCodeForm(),
        "in_use": arrived_by.select_related("sent_by").first(),
        "under_way": letter_under_way(shop, request.user),
        "by_server": by_server,
        "sender_of_server": sender_of_server(),
        "wanting": why_no_mail(shop, with_link=False),
    }
    return render(request, "office/mail.html", context, status=status)
