"""What is looked at before a start: each thing that can be wrong is found and said in words, never as a traceback."""

from __future__ import annotations

import datetime as dt
import errno
import tempfile
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import serialization
from django.core.management import CommandError, call_command

from workshop.models import Shop, Ticket
from workshop.running.lives_here import note_shop
from workshop.running.preflight import folders, looking, paper_and_mail, secret_key
from workshop.running.preflight.certificates import of_server
from workshop.running.preflight.findings import ALL, Exit, Look, Purpose, StartFinding
from workshop.shop_network.authority import issue_certificate, make_authority, pem_of_key
from workshop.starting import EMPTY_KEY, settings_problem

README = Path(__file__).parents[2] / "README.md"
NOW = dt.datetime(2026, 11, 20, 9, tzinfo=dt.UTC)


def words_of(found: Any) -> str:
    return "\n".join(str(finding) for finding in found)


def test_a_key_that_others_can_read_and_one_that_is_another(shop: Ticket, data_dir: Path, settings: Any) -> None:
    assert list(secret_key.secret_key(Purpose.SERVE)) == []
    note_shop()
    (data_dir / "secret_key").chmod(0o644)
    assert "chmod 600" in words_of(secret_key.secret_key(Purpose.SERVE))
    (data_dir / "secret_key").chmod(0o600)
    settings.SECRET_KEY = "another key, of fifty letters and a few more so that it is one"  # noqa: S105  opens nothing
    (finding,) = secret_key.secret_key(Purpose.SERVE)
    assert "another than this shop had" in finding.words
    assert "in each backup" in finding.todo
    assert not finding.stops
    note_shop()  # as every start does: what was noted first stays
    assert list(secret_key.secret_key(Purpose.SERVE)) == [finding]
    call_command("check_shop", "--accept", "--quick")
    assert list(secret_key.secret_key(Purpose.SERVE)) == []


def test_an_empty_key_is_said_before_anything_else(settings: Any) -> None:
    from django.core.exceptions import ImproperlyConfigured

    assert settings_problem() == ""

    class Empty:
        DATA_DIR = "/srv/shop"
        INSTALLED_APPS = ()

        @property
        def SECRET_KEY(self) -> str:  # noqa: N802  as Django calls it
            raise ImproperlyConfigured("The SECRET_KEY setting must not be empty.")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("django.conf.settings", Empty())
        assert settings_problem() == EMPTY_KEY.format("/srv/shop")


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EROFS, "the disk is read-only"),
        (errno.EACCES, "may not write there"),
    ],
)
def test_a_folder_that_takes_nothing(data_dir: Path, monkeypatch: pytest.MonkeyPatch, number: int, words: str) -> None:
    def refuses(*arguments: Any, **options: Any) -> Any:
        raise OSError(number, "as the disk says it")

    assert list(folders.folders(Purpose.SERVE)) == []
    monkeypatch.setattr(tempfile, "TemporaryFile", refuses)
    serving = list(folders.folders(Purpose.SERVE))
    assert words in words_of(serving)
    assert all(finding.stops for finding in serving)
    assert not any(finding.stops for finding in folders.folders(Purpose.BACKUP))  # which may well save something yet
    with pytest.raises(CommandError, match=words) as raised:
        call_command("upgrade")
    assert raised.value.returncode == Exit.NOT_BEGUN


def test_a_file_where_a_folder_should_be(data_dir: Path) -> None:
    (data_dir / "files").write_text("not a folder")
    assert "is a file where a folder should be" in words_of(folders.folders(Purpose.SERVE))


def test_a_font_that_is_missing_or_empty(tmp_path: Path, settings: Any) -> None:
    assert list(folders.fonts_and_styles(Purpose.SERVE)) == []
    root = tmp_path / "static"
    for name, content in (
        ("css/base.css", "a {}"),
        ("css/fonts.css", 'src: url("../fonts/one.woff2"), url(../fonts/two.woff2)'),
        ("documents/document.css", "b { background: url(data:image/png;base64,AA) }"),
        ("fonts/one.woff2", ""),
    ):
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(content)
    settings.STATICFILES_DIRS = [root]
    (finding,) = folders.fonts_and_styles(Purpose.SERVE)
    assert finding.stops
    assert finding.words.count(".woff2") == 2
    assert "base.css" not in finding.words


def test_certificates_that_browsers_refuse(tmp_path: Path) -> None:
    authority = make_authority(NOW)
    certificate, key = issue_certificate(authority, ["shop.local"], now=NOW, lasts=dt.timedelta(days=90))
    chain, private = tmp_path / "chain.pem", tmp_path / "key.pem"
    chain.write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    private.write_bytes(pem_of_key(key))
    private.chmod(0o600)
    ends = certificate.not_valid_after_utc
    assert list(of_server(chain, private, NOW)) == []
    assert "ended on" in words_of(of_server(chain, private, ends + dt.timedelta(days=1)))
    assert "Renew it before" in words_of(of_server(chain, private, ends - dt.timedelta(days=3)))
    assert "is good from" in words_of(of_server(chain, private, NOW - dt.timedelta(days=30)))
    private.chmod(0o644)
    assert "chmod 600" in words_of(of_server(chain, private, NOW))
    private.write_bytes(pem_of_key(authority.key))
    assert "key of another certificate" in words_of(of_server(chain, private, NOW))
    private.write_text("not a key")
    assert "no private key" in words_of(of_server(chain, private, NOW))
    assert "cannot be read" in words_of(of_server(chain, tmp_path / "nowhere.pem", NOW))
    chain.write_text("not a certificate")
    assert "no certificate in" in words_of(of_server(chain, None, NOW))
    assert "cannot be read" in words_of(of_server(tmp_path / "nowhere.pem", None, NOW))


def test_mail_settings_that_contradict_each_other(shop: Ticket, settings: Any) -> None:
    assert "both on" not in words_of(paper_and_mail.mail(Purpose.CHECK))
    settings.EMAIL_USE_SSL = settings.EMAIL_USE_TLS = True
    assert "both on" in words_of(paper_and_mail.mail(Purpose.CHECK))
    settings.EMAIL_USE_SSL = False
    Shop.objects.update(email="")
    settings.EMAIL_BACKEND, settings.DEFAULT_FROM_EMAIL = "workshop.reminders.punctual_mail.PunctualBackend", ""
    assert "no address to send from for" in words_of(paper_and_mail.mail(Purpose.CHECK))
    settings.DEFAULT_FROM_EMAIL = "shop@example.org"
    assert list(paper_and_mail.mail(Purpose.CHECK)) == []


def test_a_look_that_fails_is_a_finding_and_the_others_go_on() -> None:
    def fails(purpose: Purpose) -> list[StartFinding]:
        raise RuntimeError("the ground is gone")

    def finds(purpose: Purpose) -> list[StartFinding]:
        return [StartFinding("Something", "is found.")]

    found = looking.look(Purpose.CHECK, (Look("Ground", fails, ALL), Look("Something", finds, ALL)))
    assert str(found[0]) == (
        "Ground: This could not be looked at: RuntimeError: the ground is gone. Tell whoever looks after the shop’s "
        "computer."
    )
    assert str(found[1]) == "Something: is found."


def test_what_asks_the_database_is_left_out_once_it_cannot_be_used() -> None:
    def stops(purpose: Purpose) -> list[StartFinding]:
        return [StartFinding("Database", "is gone.", stops=True)]

    def asks(purpose: Purpose) -> list[StartFinding]:
        raise AssertionError("asked")

    found = looking.look(
        Purpose.CHECK, (Look("Database", stops, at_database=True), Look("Rows", asks, asks_database=True))
    )
    assert [finding.words for finding in found] == ["is gone."]


def test_the_readme_has_every_exit_code() -> None:
    table = README.read_text(encoding="utf-8")
    assert all(f"| `{code.value}` |" in table for code in Exit)


def test_a_shop_that_is_well_says_so_or_nothing(
    shop: Ticket, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folders, "is_low", lambda free, total: False)
    monkeypatch.setattr("workshop.running.preflight.clock.NO_EARLIER_THAN", dt.date(2020, 1, 1))
    monkeypatch.setattr("workshop.pdf_libraries.missing_packages", list)
    call_command("check_shop")
    assert "Nothing wants seeing to" in capsys.readouterr().out
    call_command("check_shop", "--quick", "--quiet")
    said = capsys.readouterr()
    assert said.out + said.err == ""
