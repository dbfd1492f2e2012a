"""The estimate on the customer's page: to read, and to agree to or decline."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from workshop.charges.agreeing import AnsweredMeanwhile, EstimateChanged, newest_estimate
from workshop.charges.models import Agreement
from workshop.documents.issuing import stored_pdf
from workshop.links.models import CustomerLink
from workshop.portal.views import for_link_holder, show_page
from workshop.work.variants_taken import answer_estimate

CONFLICT = 409
_ANSWERS = {"yes": True, "no": False}


@require_safe
@for_link_holder
def estimate(request: HttpRequest, secret: str, link: CustomerLink) -> HttpResponse:
    """The newest estimate, as it was issued."""
    document = newest_estimate(link.ticket)
    pdf = stored_pdf(document) if document else None
    if pdf is None:
        raise Http404
    disposition = content_disposition_header(False, f"estimate-{link.ticket.number}.pdf")
    return HttpResponse(pdf, content_type="application/pdf", headers={"Content-Disposition": disposition})


@require_POST
@for_link_holder
def answer(request: HttpRequest, secret: str, link: CustomerLink) -> HttpResponse:
    """Keep the customer's yes or no to the estimate that was shown, and to no other."""
    document = newest_estimate(link.ticket)
    said, _, way = request.POST.get("agreed", "").partition("-")
    agreed = _ANSWERS.get(said)
    if document is None or agreed is None:
        raise Http404
    try:
        answer_estimate(
            document=document,
            agreed=agreed,
            variant=way,
            how=Agreement.How.PAGE,
            said_by=link.ticket.customer.name,
            note=request.POST.get("note", "")[:200],
            by=None,
            seen_digest=request.POST.get("digest", ""),
            seen_answer=request.POST.get("answered", ""),
        )
    except EstimateChanged:
        problem = gettext("We have changed the estimate meanwhile. Please read it again; your answer was not kept.")
        return show_page(request, secret, link.ticket, status=CONFLICT, estimate_problem=problem)
    except AnsweredMeanwhile as meanwhile:
        problem = (
            gettext("You agreed meanwhile, on another page or by phone. To change that, answer again below.")
            if meanwhile.last.agreed
            else gettext("You declined meanwhile, on another page or by phone. To change that, answer again below.")
        )
        return show_page(request, secret, link.ticket, status=CONFLICT, estimate_problem=problem)
    except ValidationError as refused:
        return show_page(request, secret, link.ticket, status=CONFLICT, estimate_problem=" ".join(refused.messages))
    messages.success(request, gettext("Thank you. The workshop sees your answer at once."))
    return redirect("customer:page", secret)
