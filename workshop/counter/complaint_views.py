"""What the customer's words sound like, said while they are typed. The clerk decides."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import require_POST

from diagnosis.models import Complaint
from diagnosis.symptoms import Described, sounds_like
from specs.models import SuspensionModel
from workshop.counter.ticket_forms import AgreementForm
from workshop.suspension.models import SuspensionUnit
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import counter_only

MOST_WORDS = 2000


@require_POST
@counter_only
def complaints(request: ShopRequest) -> HttpResponse:
    """The line under the customer's words. Nothing typed is touched: only the line is sent back."""
    kind = kind_described(request.POST, _kind_known(request))
    form = AgreementForm(prefix="ticket", initial={"complaints": request.POST.getlist("ticket-complaints")})
    context = {"suggestions": suggestions(request.POST, kind, form)}
    return render(request, "counter/_sounds_like.html", context)


def suggestions(data: QueryDict, kind: str, form: AgreementForm) -> list[dict[str, Any]]:
    """The complaints that the words typed sound like, with the tick box of each; in two queries, or none."""
    words = data.get("ticket-complaint_words", "")[:MOST_WORDS]
    if not words.strip():
        return []
    listed = {entry.key: entry for entry in Complaint.objects.offered() if kind in entry.suits}
    heard = sounds_like(words, [Described(entry.key, entry.title, entry.symptoms) for entry in listed.values()])
    boxes = {str(box.data["value"]): box.id_for_label for box in form["complaints"]} if heard else {}
    ticked = set(data.getlist("ticket-complaints"))
    return [
        {
            "complaint": listed[one.key],
            "symptom": one.symptom,
            "box": boxes.get(str(listed[one.key].pk), ""),
            "is_ticked": str(listed[one.key].pk) in ticked,
        }
        for one in heard
    ]


def _kind_known(request: ShopRequest) -> str | None:
    """The kind of the unit on record that is chosen; None where it is a new one."""
    key = key_from(request.POST.get("unit"))
    if key is None:
        return None
    known = SuspensionUnit.objects.filter(pk=key, customer__shop=request.shop).values_list("kind", flat=True)
    return known.first() or "fork"


def kind_described(data: QueryDict, known: str | None) -> str:
    """The kind of the unit that is known, else of the new one: its model's, where one is chosen, goes before words."""
    if known is not None:
        return known
    model = key_from(data.get("unit-model"))
    of_model = SuspensionModel.objects.filter(pk=model).values_list("kind", flat=True).first() if model else None
    return of_model or data.get("unit-kind") or "fork"
