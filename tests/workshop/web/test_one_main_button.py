"""One thing stands out on a page: none has two main buttons, and one that sends something has one, or a red one."""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse

from tests.full_shop import FullShop, full_shop
from tests.workshop.test_every_screen import SENT_TOO
from tests.workshop.test_who_may_enter import ASKS_WHICH, LEAST_SENT, METHODS, arguments, the_table

REPEATED = {"li", "tr", "nav", "details", "dialog", "template"}  # rows, what chooses what is shown, and what is folded
# Pages that send something, and none of it stands out on purpose.
NONE_STANDS_OUT = {
    "bench:step": "the answers of a step are equals, until one is likeliest",
    "bench:otherwise": "one button for each condition of each part",
    "bench:parts": "kits and parts are equals, each with a button of its own",
    "office:draft_use": "a draft that may not be put in use has only the way back",
    "office:reminders_message": "a record of what was sent; what is left to do there is seldom",
    "office:set_up": "a list of steps, of which the first has the main button",
    "stores:mail_order": "without an address, it says what is missing first",
    "stores:part_numbers": "other numbers and what goes instead are equals, each with a button of its own",
    "stores:price_update": "a record of what was changed; undoing it is seldom",
    "stores:kit": "a list; what is added stands below it",
    "stores:kits": "a list; what is added stands below it",
}
VOID = {"input", "br", "img", "meta", "link", "hr", "source", "wbr", "col"}


class Buttons(HTMLParser):
    """The main buttons of a page and the forms that send something, outside of rows and folds."""

    def __init__(self) -> None:
        super().__init__()
        self.main: list[str] = []
        self.sends = 0
        self.stops = 0
        self._open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if "main" in self._open and not REPEATED & set(self._open):
            if "button--main" in (said.get("class") or "").split():
                self.main.append(said.get("href") or said.get("name") or tag)
            self.stops += "button--stop" in (said.get("class") or "").split()
            self.sends += tag == "form" and (said.get("method") or "").lower() == "post"
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while tag in self._open and self._open.pop() != tag:
            pass


def pages(shop: FullShop) -> Iterator[tuple[str, Buttons]]:
    owner, customer = Client(), Client()
    owner.force_login(shop.owner)
    customer.get(reverse("customer:page", args=[shop.secret]))
    for name, row in the_table().items():
        who = row[METHODS[0]]
        if who == "-" or name in ASKS_WHICH:
            continue
        sent = {field: shop.ids.get(value, value) for field, value in LEAST_SENT.get(name, {}).items()}
        sent |= SENT_TOO.get(name, {})
        address = reverse(name, kwargs=arguments(shop, name, holds_link=who == "link"))
        response = (customer if who in {"anyone", "link"} else owner).get(address, sent)
        is_page = response.status_code == 200 and response.headers["Content-Type"].startswith("text/html")
        if is_page and "<!doctype" in response.text[:40].lower():
            buttons = Buttons()
            buttons.feed(response.text)
            yield name, buttons


@pytest.mark.django_db
def test_one_button_stands_out() -> None:
    found = dict(pages(full_shop("Aldermoor")))
    two = {name: one.main for name, one in found.items() if len(one.main) > 1}
    bare = sorted(name for name, one in found.items() if one.sends and not (one.main or one.stops))
    none = [name for name in bare if name not in NONE_STANDS_OUT]
    assert len(found) > 60
    assert not two, f"More than one main button: {two}"
    assert not none, f"These send something, and no button stands out: {none}"


def test_the_counter_of_buttons_counts() -> None:
    """What the test above goes by: links and buttons count, those of rows, folds and choices of a view do not."""
    main = '<a class="button button--main" href="/x">x</a><button class="button button--main" name="y">y</button>'
    counted = Buttons()
    counted.feed(f"<main>{main}<ul><li>{main}</li></ul><nav>{main}</nav><form method=post></form></main>{main}")
    assert (counted.main, counted.sends, counted.stops) == (["/x", "y"], 1, 0)
