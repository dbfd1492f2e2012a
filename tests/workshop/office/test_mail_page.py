"""Mail set up on the screen: tried with a letter, used once its code came back, its password kept sealed."""

from __future__ import annotations

import datetime as dt
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import ShopFactory, UserFactory
from tests.known import known
from tests.workshop.mail_servers import NAME, PASSWORD, Letters, certificate, mail_server
from tests.workshop.reminders.due_units import due_unit, queued
from workshop.models import MailSettings, Message, Shop, User
from workshop.reminders.delivery import sender_of, why_no_mail
from workshop.reminders.mail_setting import mail_in_use, password_of
from workshop.staff.sealing import CannotOpen, seal, unseal

pytestmark = [pytest.mark.django_db, pytest.mark.filterwarnings("ignore::DeprecationWarning:aiosmtpd")]
PAGE, ARRIVED = "office:mail", "office:mail_arrived"


@pytest.fixture
def shop(settings: Any) -> Shop:
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    return ShopFactory.create(email="hello@mill-yard.example")


@pytest.fixture
def owner(shop: Shop) -> User:
    return UserFactory.create(shop=shop, owner=True)


@pytest.fixture
def office(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


@pytest.fixture
def letters() -> Letters:
    return Letters()


@pytest.fixture
def port(letters: Letters) -> Iterator[int]:
    """A server on this machine without encryption or password."""
    with mail_server(letters) as number:
        yield number


def typed(at: int, **changes: Any) -> dict[str, Any]:
    return {
        "host": "127.0.0.1", "port": at, "security": "none", "username": "", "password": "", "sender": "",
        "letter_to": "owner@example.org",
    } | changes  # fmt: skip


def set_up(office: Client, letters: Letters, port: int, **changes: Any) -> None:
    assert office.post(reverse(PAGE), typed(port, **changes)).status_code == 302
    code = known(letters.taken[-1]["Subject"]).rpartition(" ")[2]
    assert office.post(reverse(ARRIVED), {"code": code}).status_code == 302


def test_a_server_is_used_once_the_code_of_its_letter_came_back(
    office: Client, shop: Shop, letters: Letters, port: int
) -> None:
    """A server that takes a letter and sends it back later is never in use: its code does not come."""
    office.post(reverse(PAGE), typed(port))
    page = office.get(reverse(PAGE)).content.decode()
    assert "Did the letter arrive?" in page
    assert [letter["To"] for letter in letters.taken] == ["owner@example.org"]
    assert "set it up in Office, Shop, Mail" in why_no_mail(shop, with_link=False)

    code = known(letters.taken[0]["Subject"]).rpartition(" ")[2]
    assert code in letters.taken[0].get_content()
    wrong = "000000" if code != "000000" else "111111"
    refused = office.post(reverse(ARRIVED), {"code": wrong})
    assert refused.status_code == 422
    assert "not the code of the newest letter" in refused.content.decode()
    assert mail_in_use(shop) is None

    answer = office.post(reverse(ARRIVED), {"code": f"{code[:3]} {code[3:]}"}, follow=True)
    assert "letters leave by 127.0.0.1 from now on" in answer.content.decode()
    assert why_no_mail(shop, with_link=False) == ""
    again = office.post(reverse(ARRIVED), {"code": code})
    assert again.status_code == 422
    assert "no test letter on its way" in again.content.decode()


def test_reminders_leave_by_it(office: Client, shop: Shop, letters: Letters, port: int) -> None:
    set_up(office, letters, port, sender="forks@mill-yard.example")
    queued(due_unit(shop, email="rider@example.org"))
    call_command("send_reminders", quiet=True)
    assert [known(letter["To"]) for letter in letters.taken[1:]] == ["rider@example.org"]
    assert "forks@mill-yard.example" in letters.taken[1]["From"]
    assert Message.objects.get().state == Message.State.SENT
    assert sender_of(shop) == "forks@mill-yard.example"


def test_over_tls_with_a_password_that_is_kept_sealed(
    office: Client, shop: Shop, letters: Letters, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    trusted, context = certificate(tmp_path)
    monkeypatch.setenv("SSL_CERT_FILE", str(trusted))
    with mail_server(letters, starttls=context, asks=True) as port:
        changes = {"security": "starttls", "username": NAME, "password": PASSWORD}
        wrong = office.post(reverse(PAGE), typed(port, **changes | {"password": "guessed"}))
        assert wrong.status_code == 422
        assert list(wrong.context["form"].errors) == ["password"]
        assert "does not take this name and password" in wrong.content.decode()
        set_up(office, letters, port, **changes)
        kept = known(mail_in_use(shop))
        assert PASSWORD not in kept.password_sealed
        assert password_of(kept) == PASSWORD
        assert PASSWORD not in office.get(reverse(PAGE)).content.decode()
        set_up(office, letters, port, **changes | {"password": ""})  # the kept one, for the same server and name
        assert letters.signed_in[-1] == (NAME, PASSWORD)
        other = office.post(reverse(PAGE), typed(port, security="starttls", username="other"))
        assert "Enter the password that belongs to the name" in other.content.decode()
        queued(due_unit(shop, email="rider@example.org"))
        call_command("send_reminders", quiet=True)
    assert letters.taken[-1]["To"] == "rider@example.org"
    assert MailSettings.objects.count() == 1  # what was tried or used before is forgotten
    settings.SECRET_KEY = "another key, as after a restore without the old one"  # noqa: S105
    assert "set up Office, Shop, Mail anew" in why_no_mail(shop, with_link=False)


def test_tls_from_the_start(office: Client, letters: Letters, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    trusted, context = certificate(tmp_path)
    monkeypatch.setenv("SSL_CERT_FILE", str(trusted))
    with mail_server(letters, tls=context) as port:
        set_up(office, letters, port, security="tls")
    assert len(letters.taken) == 1


def test_a_certificate_that_is_not_the_servers(
    office: Client, letters: Letters, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trusted, context = certificate(tmp_path, name="mail.example.org")
    for trust in ("", str(trusted)):
        monkeypatch.setenv("SSL_CERT_FILE", trust or "/dev/null")
        for how in ("starttls", "tls"):
            more: dict[str, Any] = {how: context}
            with mail_server(letters, **more) as port:
                answer = office.post(reverse(PAGE), typed(port, security=how, username=NAME, password=PASSWORD))
            assert answer.status_code == 422
            assert "certificate is not to be trusted" in str(answer.context["form"].errors["host"])
    assert (letters.taken, letters.signed_in) == ([], [])


REFUSALS: list[tuple[dict[str, Any], dict[str, str], str, str]] = [
    ({"security": "starttls", "username": NAME, "password": PASSWORD}, {}, "security", "offers no encryption"),
    ({"security": "tls"}, {}, "security", "speaks no TLS from the start"),
    ({"username": NAME, "password": PASSWORD}, {}, "username", "takes no sign-in on that port"),
    ({}, {"owner@example.org": "550 No such mailbox"}, "letter_to", "550 No such mailbox"),
    ({}, {"hello@mill-yard.example": "553 Not yours"}, "sender", "553 Not yours"),
    ({}, {"data": "554 Looks like spam"}, "__all__", "554 Looks like spam"),
    ({"host": "mail.example.org"}, {}, "security", "Only a server on this machine may"),
    ({"host": "https://mail.example.org"}, {}, "host", "Enter the name of a server alone"),
    ({"port": "0"}, {}, "port", "from 1 to 65535"),
    ({"port": "smtp"}, {}, "port", "number"),
    ({"letter_to": "nobody"}, {}, "letter_to", "valid email address"),
    ({"username": NAME}, {}, "password", "Enter the password that belongs to the name."),
]


@pytest.mark.parametrize(("changes", "refuses", "field", "said"), REFUSALS, ids=[one[3] for one in REFUSALS])
def test_what_does_not_work_is_said_at_its_field_and_nothing_is_kept(
    office: Client, letters: Letters, port: int, changes: dict[str, Any], refuses: dict[str, str], field: str, said: str
) -> None:
    letters.refuses = refuses
    answer = office.post(reverse(PAGE), typed(port, **changes))
    assert answer.status_code == 422
    assert said in str(answer.context["form"].errors[field])
    assert answer.context["form"]["letter_to"].value() == changes.get("letter_to", "owner@example.org")
    assert (letters.taken, letters.signed_in, MailSettings.objects.count()) == ([], [], 0)


def test_nothing_that_answers(office: Client) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        answer = office.post(reverse(PAGE), typed(free.getsockname()[1]))
    assert "Nothing answers at that port" in str(answer.context["form"].errors["port"])
    assert MailSettings.objects.count() == 0


def test_a_server_that_says_nothing(office: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.reminders.mail_server.WITHIN_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as mute:
        answer = office.post(reverse(PAGE), typed(mute.getsockname()[1]))
    assert "did not answer within" in str(answer.context["form"].errors["host"])


def test_a_server_that_takes_its_leave_badly_took_the_letter_all_the_same(
    office: Client, shop: Shop, letters: Letters, port: int
) -> None:
    letters.refuses = {"quit": "500 Never heard of it"}
    set_up(office, letters, port)
    assert mail_in_use(shop) is not None


def test_two_owners_at_once(office: Client, shop: Shop, letters: Letters, port: int) -> None:
    second, other = UserFactory.create(shop=shop, owner=True, first_name="Ida"), Client()
    other.force_login(second)
    office.post(reverse(PAGE), typed(port))
    mine = known(letters.taken[-1]["Subject"]).rpartition(" ")[2]
    set_up(other, letters, port, sender="ida@mill-yard.example")
    late = office.post(reverse(ARRIVED), {"code": mine})
    assert late.status_code == 409
    assert "Ida" in late.content.decode()
    assert known(mail_in_use(shop)).sender == "ida@mill-yard.example"
    set_up(office, letters, port)
    assert known(mail_in_use(shop)).sender == ""
    assert MailSettings.objects.filter(arrived_at__isnull=False).count() == 1


def test_what_the_environment_sets_has_no_fields_and_can_be_tried(
    office: Client, shop: Shop, letters: Letters, port: int, settings: Any
) -> None:
    set_up(office, letters, port)
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
    settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
    page = office.get(reverse(PAGE)).content.decode()
    assert "set on the server by EMAIL_HOST" in page
    assert 'name="host"' not in page
    assert 'name="letter_to"' in page
    office.post(reverse(PAGE), typed(1, letter_to="else@example.org"))  # a form from before: its server is not used
    assert letters.taken[-1]["To"] == "else@example.org"
    code = known(letters.taken[-1]["Subject"]).rpartition(" ")[2]
    assert office.post(reverse(ARRIVED), {"code": code}).status_code == 302
    assert "arrived on" in office.get(reverse(PAGE)).content.decode()


def test_the_demo_sends_none(office: Client, shop: Shop, port: int, letters: Letters) -> None:
    Shop.objects.filter(pk=shop.pk).update(is_demo=True)
    assert "none leaves" in office.post(reverse(PAGE), typed(port)).content.decode()
    assert (letters.taken, MailSettings.objects.count()) == ([], 0)


def test_a_letter_of_three_days_ago_counts_no_more(office: Client, shop: Shop, letters: Letters, port: int) -> None:
    office.post(reverse(PAGE), typed(port))
    MailSettings.objects.update(sent_at=timezone.now() - dt.timedelta(days=3))
    code = known(letters.taken[-1]["Subject"]).rpartition(" ")[2]
    assert office.post(reverse(ARRIVED), {"code": code}).status_code == 422
    assert mail_in_use(shop) is None


def test_a_secret_opens_with_its_key_and_for_its_purpose_only(settings: Any) -> None:
    sealed = seal("Þrír blautir lyklar", purpose="mail password")
    assert unseal(sealed, purpose="mail password") == "Þrír blautir lyklar"
    assert sealed != seal("Þrír blautir lyklar", purpose="mail password")
    with pytest.raises(CannotOpen):
        unseal(sealed, purpose="something else")
    with pytest.raises(CannotOpen):
        unseal(sealed[:-6] + "AAAAAA", purpose="mail password")
    settings.SECRET_KEY = "another"  # noqa: S105  opens nothing
    with pytest.raises(CannotOpen):
        unseal(sealed, purpose="mail password")
