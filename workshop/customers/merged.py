"""Which record of a person stands, where one was merged into another after it was chosen."""

from __future__ import annotations

from workshop.customers.models import Customer
from workshop.staff.models import Shop


def who_stands(customer: Customer) -> Customer:
    """The customer, or the record theirs was merged into. The shop's row is held until the transaction ends, as a merge
    and a booking hold it, and before any other row: so nobody is merged in between. Two queries, three after a merge.
    """
    Shop.objects.select_for_update(no_key=True).only("pk").get(pk=customer.shop_id)
    merged_into = Customer.with_merged.values_list("merged_into", flat=True).get(pk=customer.pk)
    return customer if merged_into is None else Customer.with_merged.get(pk=merged_into)


def chosen_customer(shop: Shop, key: int | None) -> Customer | None:
    """The customer of a key out of a page, or the record theirs was merged into; None where the shop has none."""
    found = Customer.with_merged.select_related("merged_into").filter(shop=shop, pk=key or 0).first()
    return None if found is None else found.merged_into or found
