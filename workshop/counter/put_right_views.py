"""What was booked or noted wrongly is put right: rare acts, behind one link of the ticket's page."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.counter.finding import MOST_HITS
from workshop.counter.put_right_forms import RemoveForm, RightlyForm, WordsForm
from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED, edit_page, seen_version
from workshop.counter.search import find_customers
from workshop.counter.ticket_page import whole_ticket
from workshop.customers.models import Customer
from workshop.staff.roles import Right
from workshop.tickets.access import ticket_of
from workshop.tickets.correcting import correct_words
from workshop.tickets.models import ConditionNote, Photo, Ticket
from workshop.tickets.refusals import UnlawfulMove
from workshop.tickets.removing import remove_mark, remove_photo
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_right
from workshop.web.versions import StaleVersion
from workshop.work.moving_over import move_over, was_answered_or_paid, why_it_stays


@require_GET
@anyone_in_the_shop
def put_right(request: ShopRequest, number: int) -> HttpResponse:
    """What can be put right of a ticket, each a way on; its marks and photos are removed here."""
    return _page(request, number)


@require_http_methods(["GET", "POST"])
@with_right(Right.PUT_RIGHT)
def right_words(request: ShopRequest, number: int) -> HttpResponse:
    """What the customer said and what was made of it, of a closed ticket too."""
    the_ticket = whole_ticket(request.shop, number)
    form = WordsForm(request.POST, ticket=the_ticket) if request.method == "POST" else WordsForm.of(the_ticket)
    return edit_page(
        request,
        template="counter/put_right_words.html",
        form=form,
        version=the_ticket.version,
        save=lambda seen: correct_words(ticket=the_ticket, by=request.user, seen_version=seen, **form.cleaned_data),
        form_of=lambda _: WordsForm.of(whole_ticket(request.shop, number)),
        done_url=reverse("counter:ticket", args=[number]),
        said="It is put right; the history keeps what it was. Papers already printed stay as they are.",
        context={"ticket": the_ticket},
    )


@require_POST
@anyone_in_the_shop
def take_mark_off(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    the_ticket = ticket_of(request.shop, number)
    note = get_object_or_404(ConditionNote.with_removed, pk=pk, ticket=the_ticket)
    return _take_off(request, the_ticket, note, remove=lambda **how: remove_mark(ticket=the_ticket, note=note, **how))


@require_POST
@anyone_in_the_shop
def take_photo_off(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    the_ticket = ticket_of(request.shop, number)
    photo = get_object_or_404(Photo.with_removed, pk=pk, ticket=the_ticket)
    return _take_off(
        request, the_ticket, photo, remove=lambda **how: remove_photo(ticket=the_ticket, photo=photo, **how)
    )


def _take_off(
    request: ShopRequest, ticket: Ticket, row: ConditionNote | Photo, *, remove: Callable[..., None]
) -> HttpResponse:
    done = redirect("counter:put_right", ticket.number)
    if row.removed_at is not None:
        messages.info(request, "It is removed already.")
        return done
    form = _remove_form(row, request.POST)
    if not form.is_valid():
        return _page(request, ticket.number, refused={_name(row): form}, status=REFUSED)
    try:
        remove(by=request.user, seen_version=seen_version(request), reason=form.cleaned_data["reason"])
    except StaleVersion:
        typed = {_name(row): form}
        return _page(request, ticket.number, refused=typed, changed_meanwhile=True, status=CHANGED_MEANWHILE)
    messages.success(request, "It is removed: not shown, and not on papers printed from now on. The history keeps it.")
    return done


def _page(
    request: ShopRequest,
    number: int,
    *,
    refused: Mapping[str, RemoveForm] | None = None,
    changed_meanwhile: bool = False,
    status: int = 200,
) -> HttpResponse:
    """The page; `refused` forms stand in their places, open."""
    the_ticket = ticket_of(
        request.shop, number, Ticket.objects.with_names().prefetch_related("condition_notes", "photos")
    )
    open_forms = refused or {}
    context = {
        "ticket": the_ticket,
        "marks": [
            (note, open_forms.get(_name(note)) or _remove_form(note)) for note in the_ticket.condition_notes.all()
        ],
        "photos": [(photo, open_forms.get(_name(photo)) or _remove_form(photo)) for photo in the_ticket.photos.all()],
        "open_form": next(iter(open_forms.values()), None),
        "changed_meanwhile": changed_meanwhile,
    }
    return render(request, "counter/put_right.html", context, status=status)


def _name(row: ConditionNote | Photo) -> str:
    return f"{'mark' if isinstance(row, ConditionNote) else 'photo'}{row.pk}"


def _remove_form(row: ConditionNote | Photo, data: QueryDict | None = None) -> RemoveForm:
    return RemoveForm(data, prefix=_name(row))


@require_http_methods(["GET", "POST"])
@with_right(Right.PUT_RIGHT)
def rightly(request: ShopRequest, number: int) -> HttpResponse:
    """Under which customer, of which fork and bike: `?q=` looks a customer up, `?customer=` chooses one."""
    the_ticket = ticket_of(request.shop, number)
    was_answered = was_answered_or_paid(the_ticket)
    chosen = key_from((request.POST if request.method == "POST" else request.GET).get("customer"))
    customer = the_ticket.customer
    if chosen is not None and chosen != customer.pk:
        customer = get_object_or_404(Customer, pk=chosen, shop=request.shop)
    if request.method == "POST":
        form = RightlyForm(request.POST, ticket=the_ticket, customer=customer, was_answered=was_answered)
    else:
        form = RightlyForm.of(the_ticket, customer, was_answered=was_answered)
    text = request.GET.get("q", "").strip()

    def save(seen: int) -> None:
        try:
            move_over(
                ticket=the_ticket,
                by=request.user,
                seen_version=seen,
                rightly=form.rightly,
                reason=form.cleaned_data["reason"],
                answers_are_theirs=form.cleaned_data.get("answers_are_theirs", False),
            )
        except UnlawfulMove as refused:
            raise ValidationError(str(refused)) from refused

    def stored(record: Ticket) -> RightlyForm:
        return RightlyForm.of(record, customer, was_answered=was_answered)

    return edit_page(
        request,
        template="counter/put_right_whose.html",
        form=form,
        version=the_ticket.version,
        save=save,
        form_of=stored,
        done_url=reverse("counter:ticket", args=[number]),
        said=f"Ticket {number} is put right. Papers printed before stay as they are: print its label anew.",
        context={
            "ticket": the_ticket,
            "customer": customer,
            "why_it_stays": why_it_stays(the_ticket),
            "text": text,
            "hits": find_customers(request.shop, text).exclude(pk=customer.pk)[:MOST_HITS] if text else [],
        },
    )
