"""Screens of the quick sums. Each is a GET form, so that its address keeps what was asked."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from workshop.sums.subjects import SUBJECTS
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop


@require_GET
@anyone_in_the_shop
def index(request: ShopRequest) -> HttpResponse:
    return render(request, "sums/index.html", {"subjects": SUBJECTS.values()})


@require_GET
@anyone_in_the_shop
def sum_page(request: ShopRequest, key: str) -> HttpResponse:
    """A sum's form and its answer; htmx gets the answer, and the fields with what is wrong beside them."""
    subject = SUBJECTS.get(key)
    if subject is None:
        raise Http404(f"There is no sum {key}.")
    sent = request.GET if subject.form.was_sent(request.GET) else None
    form = subject.form(sent, shop=request.shop, filling_in=bool(request.htmx))
    context = {"subject": subject, "subjects": SUBJECTS.values(), "form": form, "answer": form.answer()}
    template = "sums/_change.html" if request.htmx else "sums/sum.html"
    return render(request, template, context)
