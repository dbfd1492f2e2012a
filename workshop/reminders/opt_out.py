"""Stopping reminders by a signed link that needs no login. Used twice, it does no more than once."""

from __future__ import annotations

from django.core import signing
from django.db import transaction

from workshop.customers.models import Customer
from workshop.reminders.models import Message, RemindedService

_SALT = "workshop.reminders.stop"


class ForgedLink(ValueError):
    """The link was not made by this shop, or was cut short."""


def stop_token(customer: Customer) -> str:
    """What goes into the link. It never expires: whoever finds an old letter can still stop the next one."""
    return signing.dumps(customer.pk, salt=_SALT, compress=False)


def customer_of(token: str) -> Customer:
    """The customer a link was made for; of one that was merged into another, that other. Raises ForgedLink."""
    try:
        pk = signing.loads(token, salt=_SALT)
        found = Customer.with_merged.select_related("shop", "merged_into__shop").get(pk=pk)
        return found.merged_into or found
    except (signing.BadSignature, Customer.DoesNotExist, ValueError, TypeError):
        raise ForgedLink from None


@transaction.atomic
def stop_reminders(*, customer: Customer) -> bool:
    """Withdraw the customer's agreement and call off what still waits. Returns whether anything changed."""
    locked = Customer.objects.select_for_update().get(pk=customer.pk)
    waiting = Message.objects.filter(customer=locked, state=Message.State.QUEUED, kind=Message.Kind.REMINDER)
    RemindedService.objects.filter(message__in=waiting).delete()
    waiting.update(state=Message.State.CALLED_OFF, problem="The customer stopped reminders.")
    if not locked.agreed_to_reminders:
        return False
    Customer.objects.filter(pk=locked.pk).update(
        agreed_to_reminders=False, agreed_to_reminders_at=None, version=locked.version + 1
    )
    return True
