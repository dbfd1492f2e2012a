"""The forms found on pages, and what can be sent by each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

from django.urls import resolve


@dataclass
class Field:
    """A control: its name, what is in it when the page opens, whether it takes files or amounts, and its state."""

    name: str
    kind: str
    values: list[str] = field(default_factory=list)
    takes_amount: bool = False
    is_wrong: bool = False
    described_by: str = ""


@dataclass
class FoundForm:
    """A form as a browser would send it, and every address that it or its buttons are sent to."""

    page: str
    method: str
    actions: list[str]
    fields: dict[str, Field] = field(default_factory=dict)

    def filled(self) -> dict[str, list[str]]:
        """What a browser sends of it untouched; an empty text gets a plain word or number, so that more is accepted."""
        typed = [one for one in self.fields.values() if one.kind != "file"]
        return {one.name: one.values or [_PLAIN.get(one.kind, "2")] for one in typed}


_PLAIN = {"date": "2026-11-20", "text": "2", "textarea": "Words", "email": "a@b.example", "checkbox": "on"}


class _Reader(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.forms: list[FoundForm] = []
        self.open: FoundForm | None = None
        self.select: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            method = given.get("method", "get").lower()
            self.open = FoundForm(self.page, method, [self._address(given.get("action") or self.page)])
            self.forms.append(self.open)
        for sent_by, method in (("hx-post", "post"), ("formaction", "")):
            if given.get(sent_by):
                form = self.open if self.open and (not method or self.open.method == method) else None
                if form is None:
                    self.forms.append(FoundForm(self.page, method or "post", [self._address(given[sent_by])]))
                else:
                    form.actions.append(self._address(given[sent_by]))
        if self.open is not None and tag in {"input", "textarea", "select", "button"} and given.get("name"):
            self._control(self.open, tag, given)
        elif tag == "option" and self.select is not None and given.get("value"):
            self.select.values = [given["value"]]

    def _control(self, form: FoundForm, tag: str, given: dict[str, str]) -> None:
        kind = given.get("type", "text") if tag == "input" else tag
        control = form.fields.setdefault(given["name"], Field(given["name"], kind))
        control.takes_amount |= given.get("inputmode") in {"decimal", "numeric"} and kind == "text"
        control.is_wrong |= given.get("aria-invalid") == "true"
        control.described_by = given.get("aria-describedby") or control.described_by
        if given.get("value") and kind != "file":
            control.values = [given["value"]]
        if tag == "select":
            self.select = control

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.open = None
        if tag == "select":
            self.select = None

    def _address(self, target: str) -> str:
        return urlsplit(urljoin(self.page, target)).path


def forms_on(page: str, html: str) -> list[FoundForm]:
    reader = _Reader(urlsplit(page).path)
    reader.feed(html)
    return reader.forms


def by_route(forms: Iterable[FoundForm]) -> Iterator[tuple[str, str, str, FoundForm]]:
    """Route, method, address and form; of many alike on one page the first."""
    seen = set()
    for form in forms:
        for address in dict.fromkeys(form.actions):
            route = resolve(address).view_name
            key = (route, form.method, frozenset(form.fields))
            if key not in seen:
                seen.add(key)
                yield route, form.method, address, form
