"""Which customers rows of a sheet are about: by old number, phone, email or name, as the search has them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import reduce
from operator import or_

from django.core.exceptions import ValidationError
from django.db.models import Q

from workshop.customers.known import FEWEST_DIGITS, national
from workshop.customers.models import Customer
from workshop.searching.candidates import WantedWords, candidates, holding
from workshop.searching.sources import CUSTOMER
from workshop.sheets.models import OldNumber
from workshop.sheets.records import known_numbers
from workshop.staff.models import Shop
from workshop.web.folding import fold

_MOST = 20
_FEW = 60  # rows that are asked of the index; more are held against all customers
Found = dict[str, list[Customer]]


class PeopleThere:
    """The customers that rows name, in five queries at most; none is asked afterwards.

    Args:
        rows: cells whose columns begin with `prefix`: number, phone, email, name.
    """

    def __init__(self, shop: Shop, rows: Sequence[Mapping[str, str]], *, prefix: str = "") -> None:
        self.prefix = prefix
        wanted = {
            what: {cells.get(prefix + what, "") for cells in rows} - {""}
            for what in ("number", "phone", "email", "name")
        }
        phones = {key for key in map(national, wanted["phone"]) if len(key) >= FEWEST_DIGITS}
        emails = set(map(fold, wanted["email"]))
        # A name is looked for only where nothing else says who it is.
        nameless = [cells for cells in rows if not (cells.get(f"{prefix}phone") or cells.get(f"{prefix}email"))]
        names = {fold(name) for cells in nameless if (name := cells.get(f"{prefix}name", ""))}
        by_number = known_numbers(shop, OldNumber.Thing.CUSTOMER, list(wanted["number"]))
        if len(rows) <= _FEW:
            keys = _asked_of_the_index(shop, phones, emails, names)
        else:
            keys = _held_against_all(shop, phones, emails, names)
        people = {
            one.pk: one
            for one in Customer.with_merged.filter(shop=shop, pk__in={*keys, *by_number.values()}).select_related(
                "merged_into"
            )
        }
        self.numbers: dict[int, set[str]] = defaultdict(set)
        for record, number in OldNumber.objects.filter(
            shop=shop, thing=OldNumber.Thing.CUSTOMER, record__in=people
        ).values_list("record", "number"):
            self.numbers[record].add(number)
        self.by_number = {
            number: people[pk].merged_into or people[pk] for number, pk in by_number.items() if pk in people
        }
        self.phones: Found = defaultdict(list)
        self.emails: Found = defaultdict(list)
        self.names: Found = defaultdict(list)
        for one in sorted(people.values(), key=lambda each: each.pk):
            if one.merged_into_id is None:
                self._keep(one)

    def _keep(self, one: Customer) -> None:
        for key in {national(phone) for phone in one.phones}:
            if len(key) >= FEWEST_DIGITS:
                self.phones[key].append(one)
        if one.email:
            self.emails[fold(one.email)].append(one)
        self.names[fold(one.name)].append(one)

    def learn(self, record: Customer, number: str) -> None:
        """That a row made a customer, or named one by a number."""
        if not any(one.pk == record.pk for one in self.names[fold(record.name)]):
            self._keep(record)
        if number:
            self.numbers[record.pk].add(number)
            self.by_number[number] = record

    def match(self, cells: Mapping[str, str], *, somebody_else: bool | None) -> Customer | None:
        """Whom a row of customers is about; None for somebody new.

        Raises ValidationError: it could be several, or somebody of another name has the phone or the email.
        """
        number = cells.get("number", "")
        if number in self.by_number:
            return self.by_number[number]
        found, by = self._reached(cells, number)
        named = [one for one in found if fold(one.name) == fold(cells.get("name", ""))]
        if named:
            return _one_of(named, by)
        if somebody_else or not (found or not (cells.get("phone") or cells.get("email"))):
            return None
        if not found:
            alone = [
                one
                for one in self.names.get(fold(cells.get("name", "")), [])
                if not one.phones and not one.email and not self._is_another(one, number)
            ]
            return _one_of(alone, "name")
        if somebody_else is False:
            return _one_of(found, by)
        raise ValidationError(
            {
                by: f"{cells.get(by, '')} is that of {_names(found)}, who is on record. Write yes under somebody_else "
                f"if {cells.get('name', '')} is another person, or no if it is the same one under another name."
            }
        )

    def owner(self, cells: Mapping[str, str]) -> Customer:
        """Whose something is. Raises ValidationError where nobody, or more than one, is meant."""
        number, name = cells.get(f"{self.prefix}number", ""), cells.get(f"{self.prefix}name", "")
        if number in self.by_number:
            return self.by_number[number]
        own = {what: cells.get(self.prefix + what, "") for what in ("phone", "email")}
        found, by = self._reached(own, "")
        by_name = [one for one in found if fold(one.name) == fold(name)] if name else []
        if not found and name and not number:
            found, by = list(self.names.get(fold(name), [])), "name"
        one = _one_of(by_name or found, self.prefix + by)
        if one is None:
            column = next((self.prefix + what for what in ("number", "phone", "email", "name")
                           if cells.get(self.prefix + what)), f"{self.prefix}name")  # fmt: skip
            said = f"Nobody here is “{cells[column]}”. Bring the customers in first." if cells.get(column) else (
                "Say whose it is: a number, phone, email or name."
            )  # fmt: skip
            raise ValidationError({column: said})
        return one

    def _reached(self, cells: Mapping[str, str], number: str) -> tuple[list[Customer], str]:
        """Who has that phone or email, and which of the two says so."""
        phone = self.phones.get(national(cells.get("phone", "")), [])
        email = self.emails.get(fold(cells.get("email", "")), []) if cells.get("email") else []
        both = [one for one in dict.fromkeys([*phone, *email]) if not self._is_another(one, number)]
        return both, "phone" if phone else "email"

    def _is_another(self, one: Customer, number: str) -> bool:
        """Whether they came in under another number: where the file is from, they were two."""
        return bool(number) and bool(self.numbers.get(one.pk)) and number not in self.numbers[one.pk]


def _one_of(found: Sequence[Customer], column: str) -> Customer | None:
    if len(found) > 1:
        raise ValidationError(
            {column: f"This could be {_names(found)}, {len(found)} records. Say which by its number."}
        )
    return found[0] if found else None


def _names(found: Iterable[Customer]) -> str:
    return " or ".join(dict.fromkeys(str(one) for one in list(found)[:3]))


def _asked_of_the_index(shop: Shop, phones: Iterable[str], emails: Iterable[str], names: Iterable[str]) -> set[int]:
    """Keys of customers that may have them: what holds the digits or the letters, and whose text begins with a name."""
    words = [holding(CUSTOMER, shop.pk, WantedWords.of((word,)), _MOST) for word in (*phones, *emails)]
    keys = {key for found in candidates(words).values() for key in found}
    begins = [Q(search_text__startswith=name) for name in names if name]
    if begins:
        keys |= set(Customer.objects.filter(reduce(or_, begins), shop=shop).values_list("pk", flat=True))
    return keys


def _held_against_all(shop: Shop, phones: set[str], emails: set[str], names: set[str]) -> set[int]:
    keys: set[int] = set()
    if not (phones or emails or names):
        return keys
    for pk, name, phone, others, email in (
        Customer.objects.filter(shop=shop).values_list("pk", "name", "phone", "other_phones", "email").iterator(2000)
    ):
        if (
            (email and fold(email) in emails)
            or (names and fold(name) in names)
            or (phones and any(national(line) in phones for line in (phone, *others.splitlines())))
        ):
            keys.add(pk)
    return keys


def shared_ways_to_reach(shop: Shop) -> set[str]:
    """Phones and emails, folded, that more than one customer has; one query."""
    seen, shared = set[str](), set[str]()
    reached_by = Customer.objects.filter(shop=shop).values_list("phone", "other_phones", "email")
    for phone, others, email in reached_by.iterator(2000):
        phones = {key for key in map(national, (phone, *others.splitlines())) if len(key) >= FEWEST_DIGITS}
        own = phones | ({fold(email)} if email else set())
        shared |= own & seen
        seen |= own
    return shared
