"""What the operator of several shops in one database sees of each, and how one is closed for good."""

from __future__ import annotations

import datetime as dt
import json
import stat
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries, Settings

from tests.factories import DocumentFactory, PhotoFactory, ShopFactory, TicketFactory, UserFactory
from tests.workshop.reminders.due_units import due_unit, queued
from workshop.models import Message, SecurityEvent, Shop, Ticket, User
from workshop.running.shops_standing import ShopLine, lines_of_shops
from workshop.staff.stopped_shops import suspend_shop

pytestmark = pytest.mark.django_db
AT = dt.datetime(2026, 11, 3, 10, 0, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def folder(settings: Settings, tmp_path: Path) -> Path:
    settings.DATA_DIR = tmp_path
    return tmp_path


@pytest.fixture
def shop() -> Shop:
    """Two people, one of them shut out; three tickets, one of them open; a photo, a paper, a mail sent and one back."""
    made: Shop = ShopFactory.create(name="Weir Lane")
    UserFactory(shop=made, owner=True, last_login=AT)
    UserFactory(shop=made, is_active=False)
    ticket = TicketFactory.create(shop=made)
    for state in (Ticket.State.HANDED_BACK, Ticket.State.CALLED_OFF):
        TicketFactory.create(shop=made, state=state)
    PhotoFactory(ticket=ticket)
    DocumentFactory(ticket=ticket)
    queued(due_unit(made))
    Message.objects.update(state=Message.State.SENT, sent_at=AT, claimed_at=AT)
    back = queued(due_unit(made))
    Message.objects.filter(pk=back.pk).update(state=Message.State.FAILED, claimed_at=AT + dt.timedelta(days=1))
    return made


def line_of(shop: Shop) -> ShopLine:
    return next(line for line in lines_of_shops() if line.number == shop.pk)


def test_a_line_says_how_a_shop_stands(shop: Shop, folder: Path) -> None:
    errors = [{"at": (AT + dt.timedelta(days=day)).isoformat(), "shop": shop.pk} for day in (0, 2)]
    errors.append({"at": (AT + dt.timedelta(days=5)).isoformat()})  # of no shop
    (folder / "errors.jsonl").write_text("".join(f"{json.dumps(error)}\n" for error in errors))
    assert line_of(shop) == ShopLine(
        number=shop.pk, name="Weir Lane", state="open", people=1, open_tickets=1, last_sign_in=AT, files=2,
        last_sent=AT, last_returned=AT + dt.timedelta(days=1), last_error=AT + dt.timedelta(days=2),
    )  # fmt: skip
    empty = ShopFactory.create()
    assert line_of(empty) == ShopLine(empty.pk, empty.name, "open", 0, 0, None, 0, None, None, None)


def test_it_takes_no_query_more_for_more_shops(shop: Shop, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    ShopFactory.create_batch(3)
    with django_assert_num_queries(6):
        assert len(lines_of_shops()) == 4


def test_the_command_shows_them_in_columns_and_for_a_program(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    suspend_shop(shop=shop, who="Runa", why="")
    today = f"{timezone.localtime():%-d %b %Y}"
    call_command("shops")
    head, line = capsys.readouterr().out.splitlines()[:2]
    for title, cell in (
        ("no.", str(shop.pk)), ("shop", "Weir Lane"), ("state", f"suspended since {today}"), ("people", "1"),
        ("open tickets", "1"), ("last sign-in", "3 Nov 2026"), ("files", "2"), ("last mail sent", "3 Nov 2026"),
        ("last returned", "4 Nov 2026"), ("last error", "-"),
    ):  # fmt: skip
        assert line[head.index(title) :].startswith(cell), title
    call_command("shops", "--json")
    (told,) = json.loads(capsys.readouterr().out)["shops"]
    assert (told["number"], told["people"], told["last_sent"]) == (shop.pk, 1, AT.isoformat())


class TestClosing:
    def answered(self, monkeypatch: pytest.MonkeyPatch, typed: str) -> None:
        monkeypatch.setattr("builtins.input", lambda _: typed)

    def close(self, shop: Shop, to: Path, *more: Any) -> None:
        call_command("close_shop", str(shop.pk), "--to", str(to), "--by", "Runa", *more)

    def test_everything_of_it_is_in_a_file_of_its_own_first(
        self, shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        suspend_shop(shop=shop, who="Runa", why="")
        self.answered(monkeypatch, "Weir Lane")
        before = User.objects.count(), Ticket.objects.count(), Message.objects.count()
        self.close(shop, tmp_path)
        (file,) = tmp_path.glob("*.zip")
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        with zipfile.ZipFile(file) as archive:
            assert any("Weir Lane" in archive.read(name).decode() for name in archive.namelist())
            assert len([name for name in archive.namelist() if name.startswith("tables/")]) > 50
        shop.refresh_from_db()
        assert shop.closed_at is not None
        assert SecurityEvent.objects.order_by("-number")[0].values == {"who": "Runa", "file": file.name}
        assert (User.objects.count(), Ticket.objects.count(), Message.objects.count()) == before
        assert "Nothing is deleted" in capsys.readouterr().out
        assert not list(tmp_path.glob("*.part"))

    def test_not_before_it_is_suspended(self, shop: Shop, tmp_path: Path) -> None:
        with pytest.raises(CommandError, match="Suspend it first"):
            self.close(shop, tmp_path, "--yes")
        assert not list(tmp_path.glob("*.zip"))

    def test_not_by_another_name_and_not_where_nobody_answers(
        self, shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        suspend_shop(shop=shop, who="Runa", why="")
        self.answered(monkeypatch, "weir lane")
        with pytest.raises(CommandError, match="That is not “Weir Lane”"):
            self.close(shop, tmp_path)

        def nobody(_: str) -> str:
            raise EOFError

        monkeypatch.setattr("builtins.input", nobody)
        with pytest.raises(CommandError, match="give --yes"):
            self.close(shop, tmp_path)
        shop.refresh_from_db()
        assert shop.closed_at is None

    def test_not_where_the_file_cannot_be_written(self, shop: Shop, tmp_path: Path) -> None:
        suspend_shop(shop=shop, who="Runa", why="")
        with pytest.raises(CommandError, match=r"could not be written.*Nothing was closed"):
            self.close(shop, tmp_path / "away", "--yes")
        shop.refresh_from_db()
        assert shop.closed_at is None
