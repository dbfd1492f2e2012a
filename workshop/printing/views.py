"""Issuing documents and showing the issued ones."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_POST

from workshop.documents.issuing import UnknownPaper, issue, stored_pdf
from workshop.documents.receipt import NothingToPrint
from workshop.documents.rendering import PdfUnavailable
from workshop.issued.models import Document
from workshop.tickets.access import ticket_of
from workshop.web.public_address import link_for_staff
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop


@require_POST
@anyone_in_the_shop
def issue_document(request: ShopRequest, number: int, kind: str) -> HttpResponse:
    """Issue the next revision and open it; without PDF libraries, say which package is missing."""
    ticket = ticket_of(request.shop, number)
    if kind not in Document.Kind.values:
        raise Http404
    address = link_for_staff(request.shop, reverse("bench:ticket", args=[number]), request)
    try:
        document = issue(
            ticket=ticket, kind=kind, by=request.user, ticket_address=address, paper=request.POST.get("paper", "")
        )
    except (PdfUnavailable, UnknownPaper, NothingToPrint) as problem:
        messages.error(request, str(problem))
        return redirect("counter:ticket", number=number)
    return redirect("documents:pdf", number=number, kind=kind, revision=document.revision)


@require_GET
@anyone_in_the_shop
def show_pdf(request: ShopRequest, number: int, kind: str, revision: int) -> HttpResponse:
    """The PDF as it was issued; one that was altered or lost since is reported, not shown."""
    document = get_object_or_404(
        Document.objects.select_related("ticket"),
        ticket__shop=request.shop,
        ticket__number=number,
        kind=kind,
        revision=revision,
    )
    if document.data.get("erased"):
        messages.info(request, f"The PDF of {document} was removed when the customer’s data were erased.")
        return redirect("counter:ticket", number=number)
    pdf = stored_pdf(document)
    if pdf is None:
        messages.error(
            request,
            f"The stored PDF of {document} is missing or not the one that was issued. Restore it from a backup, "
            "or issue a new revision.",
        )
        return redirect("counter:ticket", number=number)
    name = f"{kind.replace('_', '-')}-{number}-r{revision}.pdf"
    return HttpResponse(
        pdf, content_type="application/pdf", headers={"Content-Disposition": content_disposition_header(False, name)}
    )
