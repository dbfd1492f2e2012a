"""Every address, for every role, without a sign-in and by a customer's link: as written in who_may_enter.txt."""

from __future__ import annotations

from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertTemplateUsed

from tests.addresses import ROUTES, parts_of
from tests.factories import UserFactory
from tests.full_shop import FullShop, full_shop

TABLE = Path(__file__).with_name("who_may_enter.txt")
METHODS = ("get", "post")
STAFF_OF = {
    "all": {"counter", "mechanic", "owner"},
    "counter": {"counter", "owner"},
    "bench": {"mechanic", "owner"},
    "owner": {"owner"},
    "-": set(),
}
IN, SIGN_IN, NOT_THIS_ROLE, NOTHING_THERE, NO_SUCH_METHOD = "in", "asked to sign in", "403", "404", "405"
# What these do not answer without: it names a record, or is one of the page's two buttons.
LEAST_SENT = {
    "counter:give_unit": {"customer": "customer"},
    "customer:answer_estimate": {"agreed": "yes"},
    "stores:give": {"line": "part_line"},
}
# Asked for no count of the table, it has no tickets to show.
ASKS_WHICH = {"office:figure_tickets"}
# A mail program posts here without a page of ours; the signed address is the proof (RFC 8058).
SENT_WITHOUT_A_FORM = {"customer:stop"}


def the_table() -> dict[str, dict[str, str]]:
    lines = [line.split() for line in TABLE.read_text().splitlines() if line and not line.startswith("#")]
    return {name: dict(zip(METHODS, who, strict=True)) for name, *who in lines}


def expected(who: str, actor: str) -> str:
    """What the table says happens to an actor: a role, "nobody", or "link", who has no login but the secret."""
    if who == "anyone":
        return IN
    if who == "link":
        return IN if actor == "link" else NOTHING_THERE
    if actor in {"nobody", "link"}:
        return SIGN_IN
    return NO_SUCH_METHOD if who == "-" else IN if actor in STAFF_OF[who] else NOT_THIS_ROLE


def what_happened(response: Any) -> str:
    status = response.status_code
    if status == 401 or (status == 302 and response.url.startswith(reverse("sign_in") + "?")):
        return SIGN_IN
    return {403: NOT_THIS_ROLE, 404: NOTHING_THERE, 405: NO_SUCH_METHOD}.get(status, IN)


def test_every_address_has_its_line() -> None:
    written = [line.split()[0] for line in TABLE.read_text().splitlines() if line and not line.startswith("#")]
    assert set(written) == set(ROUTES), "Write the new address, and who may enter, into who_may_enter.txt."
    assert len(written) == len(set(written))


@pytest.fixture
def shop(db: None) -> FullShop:
    return full_shop("Aldermoor")


@pytest.mark.parametrize(
    "actor",
    [
        "owner",
        *(pytest.param(one, marks=pytest.mark.any_database) for one in ("counter", "mechanic", "nobody", "link")),
    ],
)
def test_everybody_enters_where_the_table_says_and_nowhere_else(client: Client, shop: FullShop, actor: str) -> None:
    if actor in STAFF_OF["all"]:
        client.force_login(getattr(shop, actor))
    if actor == "link":
        assert client.get(reverse("customer:page", args=[shop.secret])).status_code == 200
    differs = []
    for name, row in the_table().items():
        address = reverse(name, kwargs=arguments(shop, name, holds_link=actor == "link"))
        sent = {field: shop.ids.get(value, value) for field, value in LEAST_SENT.get(name, {}).items()}
        for method, who in row.items():
            wanted, found = expected(who, actor), what_happened(undone(client, method, address, sent))
            wanted = NOTHING_THERE if wanted == IN and name in ASKS_WHICH else wanted
            if found != wanted and not (who == "-" and found != IN):  # of two reasons to refuse, either may be said
                differs.append(f"{method.upper()} {name} {address} {actor}: {wanted} expected, was {found}")
    assert not differs, "\n".join(differs)


def arguments(shop: FullShop, name: str, *, holds_link: bool) -> dict[str, Any]:
    found = shop.arguments(name, parts_of(name))
    given_out = {"secret", "token"} & set(found)
    return found if holds_link else found | dict.fromkeys(given_out, "made-up")


def undone(client: Client, method: str, address: str, sent: dict[str, Any] | None = None) -> Any:
    """Send, and take back what it wrote: the next address finds the shop and the session as they were."""
    cookies = client.cookies.output(header="", sep=";")
    with transaction.atomic():
        response = getattr(client, method)(address, sent or {})
        transaction.set_rollback(True)
    client.cookies = SimpleCookie(cookies)
    return response


@pytest.mark.any_database
def test_other_methods_do_nothing(client: Client, shop: FullShop) -> None:
    client.force_login(shop.owner)
    for name in sorted(set(ROUTES) - {"sign_in"}):  # which sends away whoever is signed in, whatever the method
        address = reverse(name, kwargs=arguments(shop, name, holds_link=True))
        for method in ("put", "patch", "delete"):
            assert what_happened(undone(client, method, address)) == NO_SUCH_METHOD, f"{method} {name}"


@pytest.mark.any_database
def test_nothing_is_sent_from_a_page_that_is_not_ours(shop: FullShop) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(shop.owner)
    sending = [name for name, row in the_table().items() if row["post"] != "-"]
    for name in sorted(set(sending) - SENT_WITHOUT_A_FORM):
        address = reverse(name, kwargs=arguments(shop, name, holds_link=True))
        response = undone(client, "post", address)
        assert response.status_code == 403, name
        assertTemplateUsed(response, "errors/form_expired.html")


@pytest.mark.any_database
def test_htmx_is_asked_to_sign_in_with_words_and_no_page(client: Client, shop: FullShop) -> None:
    for name, row in the_table().items():
        if {"anyone", "link"}.isdisjoint(row.values()):
            address = reverse(name, kwargs=arguments(shop, name, holds_link=False))
            response = client.get(address, headers={"HX-Request": "true"})
            assert response.status_code == 401, name
            assert response.content == b"Signed out. Sign in again in another tab, then repeat."


@pytest.mark.django_db
def test_a_role_that_may_not_is_told_so(client: Client) -> None:
    client.force_login(UserFactory(mechanic=True))
    response = client.get(reverse("office:overview"))
    assertContains(response, "That is not for your role", status_code=403)


@pytest.mark.django_db
def test_staff_without_a_shop_enters_nowhere(client: Client) -> None:
    client.force_login(UserFactory(shop=None, owner=True))
    assert client.get(reverse("office:overview")).status_code == 403


@pytest.mark.django_db
def test_a_form_sent_after_the_session_ended_says_what_to_do(client: Client) -> None:
    response = client.post(reverse("counter:today"), {"note": 'It knocks, "they" said.', "page_person": "7"})
    assert response.status_code == 401
    assertTemplateUsed(response, "errors/signed_out.html")
    assertContains(response, "It knocks, &quot;they&quot; said.", status_code=401)  # to be sent again
    assertContains(response, 'name="page_person"', status_code=401)  # under the name it was sent by
    assert response["Cache-Control"] == "no-store"
