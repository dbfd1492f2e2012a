"""The set-up guide: the owner's first page of a new shop, which sees by itself what is done."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.factories import (
    ChecklistFactory,
    CustomerFactory,
    ShopFactory,
    SpecValueFactory,
    StockItemFactory,
    UserFactory,
)
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.models import MailSettings, OpeningHours, ReceiptSettings, ServicePrice, SetUpGuide, Shop, TaxRules, User
from workshop.office import set_up
from workshop.office.set_up import guide_of
from workshop.running.keeping import name_of
from workshop.signed.signing import sign
from workshop.signed.standing import unread
from workshop.staff.opening import open_shop

pytestmark = pytest.mark.django_db
GUIDE = "office:set_up"


@pytest.fixture
def owner(settings: Any, tmp_path: Path) -> User:
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    settings.BACKUP_DIR = tmp_path / "backups"
    made, _ = open_shop(name="Mill Yard", owner="ines")
    User.objects.filter(pk=made.pk).update(must_change_password=False)
    return User.objects.get(pk=made.pk)


@pytest.fixture
def shop(owner: User) -> Shop:
    return known(owner.shop)


@pytest.fixture
def office(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


def open_steps(shop: Shop) -> set[str]:
    standing = guide_of(Shop.objects.get(pk=shop.pk))
    return {step.key for step in [*standing.now, *standing.later]}


def _its_shop(shop: Shop) -> None:
    Shop.objects.filter(pk=shop.pk).update(
        address="1 Weir Lane",
        phone="0555 1",
        email="hello@mill-yard.example",
        country="IE",
        time_zone="Europe/Dublin",
        version=2,
    )
    OpeningHours.objects.create(shop=shop, weekday=0, opens=dt.time(9), closes=dt.time(18))
    ReceiptSettings.objects.create(shop=shop, tax_number="12 345")


def _mail(shop: Shop) -> None:
    Shop.objects.filter(pk=shop.pk).update(email="hello@mill-yard.example")
    now = timezone.now()
    MailSettings.objects.create(shop=shop, host="mail.example.org", letter_to="a@example.org", sent_at=now,
                                arrived_at=now)  # fmt: skip


def _prices(shop: Shop) -> None:
    ServicePrice.objects.create(shop=shop, kind="fork", level="lowers", price=60)
    TaxRules.objects.create(shop=shop)


def _checklists(shop: Shop) -> None:
    for checklist in unread(shop):
        sign(shop=shop, checklist=checklist, seen_wording=checklist.wording, by=UserFactory(shop=shop, mechanic=True))


DOINGS: dict[str, Callable[[Shop], object]] = {
    "shop": _its_shop,
    "people": lambda shop: UserFactory.create(shop=shop, mechanic=True),
    "tablets": lambda shop: set_up.note_first_device(shop),
    "mail": _mail,
    "prices": _prices,
    "model": lambda shop: SpecValueFactory.create(),
    "parts": lambda shop: StockItemFactory.create(shop=shop),
    "moving_in": lambda shop: CustomerFactory.create(shop=shop),
}


def test_a_new_owner_starts_with_it_and_reads_why(office: Client) -> None:
    assert office.get(reverse("home"))["Location"] == reverse(GUIDE)
    page = office.get(reverse(GUIDE)).content.decode()
    assert "Everybody signs in by their own name" in page
    assert "A phone number" in page
    assert reverse("office:mail") in page


@pytest.mark.parametrize("key", DOINGS)
def test_a_step_goes_by_what_is_true_and_comes_back(shop: Shop, key: str) -> None:
    before = open_steps(shop)
    assert key in before
    DOINGS[key](shop)
    assert before - open_steps(shop) == {key}


def test_a_checklist_that_was_read(shop: Shop) -> None:
    shipped_checklist("after-a-crash")
    assert "checklists" in open_steps(shop)
    _checklists(shop)
    assert "checklists" not in open_steps(shop)


def test_what_goes_away_again_is_asked_again(shop: Shop) -> None:
    colleague = UserFactory.create(shop=shop, mechanic=True)
    assert "people" not in open_steps(shop)
    User.objects.filter(pk=colleague.pk).update(is_active=False)
    assert "people" in open_steps(shop)


def test_another_shops_people_and_parts_are_not_ours(shop: Shop) -> None:
    other = ShopFactory.create()
    for key in ("people", "prices", "parts", "moving_in"):
        DOINGS[key](other)
        assert key in open_steps(shop)


def test_a_backup_counts_on_another_disk_and_not_too_old(
    shop: Shop, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, shared = Path(settings.BACKUP_DIR), [True]
    monkeypatch.setattr(set_up, "shares_disk", lambda path: shared[0])
    assert "backup" in open_steps(shop)
    folder.mkdir()
    made = folder / name_of(timezone.now())
    made.touch()
    assert "backup" in open_steps(shop)
    shared[0] = False
    assert "backup" not in open_steps(shop)
    made.rename(folder / name_of(timezone.now() - dt.timedelta(days=3)))
    assert "backup" in open_steps(shop)


def test_left_for_later_and_taken_up_again(office: Client, shop: Shop) -> None:
    for later, there in (("1", True), ("1", True), ("0", False)):
        office.post(reverse("office:set_up_later"), {"step": "mail", "later": later})
        standing = guide_of(shop)
        assert ("mail" in {step.key for step in standing.later}) is there
        assert ("mail" in {step.key for step in standing.now}) is not there
    office.post(reverse("office:set_up_later"), {"step": "no such step", "later": "1"})
    assert SetUpGuide.objects.get().later == []


def test_it_is_first_until_nothing_is_left_for_now(office: Client, shop: Shop) -> None:
    for step in guide_of(shop).now:
        assert office.get(reverse("home"))["Location"] == reverse(GUIDE)
        office.post(reverse("office:set_up_later"), {"step": step.key, "later": "1"})
    assert office.get(reverse("home"))["Location"] == reverse("office:overview")
    assert "Left for later" in office.get(reverse(GUIDE)).content.decode()


def test_the_guide_is_left_and_begun_again(office: Client) -> None:
    for left, first in (("1", "office:overview"), ("1", "office:overview"), ("0", GUIDE)):
        office.post(reverse("office:set_up_leave"), {"left": left})
        assert office.get(reverse("home"))["Location"] == reverse(first)


def test_a_shop_from_before_is_not_asked_but_can_begin(client: Client) -> None:
    owner = UserFactory.create(owner=True)
    client.force_login(owner)
    assert client.get(reverse("home"))["Location"] == reverse("office:overview")
    assert client.get(reverse(GUIDE)).status_code == 200
    assert not SetUpGuide.objects.exists()
    client.post(reverse("office:set_up_leave"), {"left": "0"})
    assert client.get(reverse("home"))["Location"] == reverse(GUIDE)


def test_nobody_but_the_owner_starts_with_it(client: Client, shop: Shop) -> None:
    client.force_login(UserFactory.create(shop=shop, mechanic=True))
    assert client.get(reverse("home"))["Location"] == reverse("bench:board")


@pytest.mark.parametrize(
    ("address", "scheme", "seen"),
    [
        ("192.168.1.20", "https", True),
        ("192.168.1.20", "http", False),
        ("127.0.0.1", "https", False),
        ("::1", "https", False),
    ],
)
def test_a_tablet_is_seen_when_it_signs_in_over_https(
    client: Client, shop: Shop, address: str, scheme: str, seen: bool
) -> None:
    client.force_login(UserFactory.create(shop=shop, mechanic=True))
    client.get(reverse("home"), secure=scheme == "https", REMOTE_ADDR=address)
    assert ("tablets" not in open_steps(shop)) is seen


def test_the_guide_keeps_its_number_of_queries(office: Client, shop: Shop) -> None:
    office.get(reverse(GUIDE))
    with CaptureQueriesContext(
        connection,
    ) as before:
        office.get(reverse(GUIDE))
    for _ in range(4):
        ChecklistFactory.create()
        UserFactory.create(shop=shop, mechanic=True)
        CustomerFactory.create(shop=shop)
        StockItemFactory.create(shop=shop)
        SpecValueFactory.create()
    with CaptureQueriesContext(connection) as after:
        office.get(reverse(GUIDE))
    assert len(after) == len(before) <= 26


def test_two_owners_at_the_shops_settings(office: Client, shop: Shop) -> None:
    """The second is told what the first saved; nothing of either is lost."""
    address = reverse("office:shop_settings")
    form = office.get(address).context["form"]
    sent = {name: "" if (value := form[name].value()) is None else value for name in form.fields}
    sent |= {"seen_version": shop.version}
    sent.pop("owners_need_second_factor")
    Shop.objects.filter(pk=shop.pk).update(last_ticket_number=41)
    assert office.post(address, sent | {"phone": "0555 1"}).status_code == 302
    late = office.post(address, sent | {"phone": "0555 2", "address": "1 Weir Lane"})
    assert late.status_code == 409
    text = late.content.decode()
    assert "Somebody changed this while you were typing" in text
    assert 'value="0555 2"' in text
    kept = Shop.objects.get(pk=shop.pk)
    assert (kept.phone, kept.address, kept.last_ticket_number, kept.version) == ("0555 1", "", 41, 2)
    seen = late.context["seen_version"]
    assert office.post(address, sent | {"phone": "0555 2", "seen_version": seen}).status_code == 302
    assert Shop.objects.get(pk=shop.pk).phone == "0555 2"


def test_a_number_given_out_meanwhile_stays(office: Client, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Saving the settings wrote the whole row: a ticket booked in between got its number taken back."""
    from workshop.office.forms import ShopForm

    clean_currency = ShopForm.clean_currency

    def booked_in_meanwhile(form: ShopForm) -> str:
        Shop.objects.filter(pk=shop.pk).update(last_ticket_number=7)
        return clean_currency(form)

    monkeypatch.setattr(ShopForm, "clean_currency", booked_in_meanwhile)
    address = reverse("office:shop_settings")
    form = office.get(address).context["form"]
    sent = {name: "" if (value := form[name].value()) is None else value for name in form.fields}
    sent.pop("owners_need_second_factor")
    assert office.post(address, sent | {"seen_version": shop.version}).status_code == 302
    assert Shop.objects.get(pk=shop.pk).last_ticket_number == 7


def test_a_logo_of_40_mb_is_told_at_its_field(office: Client) -> None:
    from django.core.files.uploadedfile import SimpleUploadedFile

    huge = SimpleUploadedFile("sign.png", b"\x89PNG" + bytes(40 << 20), "image/png")
    answer = office.post(reverse("office:receipts"), {"tax_number": "12", "logo": huge, "seen_version": "0"})
    assert answer.status_code == 422
    assert "“sign.png” is larger than 5 MB. Choose a smaller picture." in str(answer.context["form"].errors["logo"])
    assert answer.context["form"]["tax_number"].value() == "12"
