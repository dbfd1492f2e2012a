"""What the machines of a group share: the bucket of their files, and the secret key."""

from __future__ import annotations

from collections.abc import Iterator

from django.conf import settings
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.running.databases import described
from workshop.running.files_belong import FILES_MARKER, whose_files
from workshop.running.lives_here import first_moment
from workshop.running.named_files import a_named_file
from workshop.running.preflight.findings import Purpose, StartFinding
from workshop.running.stored import files_place, stored_files
from workshop.running.whereabouts import has_tables
from workshop.staff.shared_key import is_anothers_key
from workshop.web.storage import StoreAway, file_store

FILES = "Photos and documents"
_LOOK = "Look at FILES_URL, and at the credentials of its bucket."
_ACCEPT = "If it is on purpose: python3 manage.py check_shop --accept."


def bucket_answers(purpose: Purpose) -> Iterator[StartFinding]:
    """Whether the bucket gives and takes files: tried with one that is gone at once, but for a page only read."""
    if not settings.FILES_BUCKET:
        return
    stops = purpose is not Purpose.PAGE
    try:
        whose_files()
        if purpose is not Purpose.PAGE:
            file_store().try_out()
    except StoreAway as away:
        yield StartFinding(FILES, f"{files_place()} cannot be used. {away.words}", _LOOK, stops=stops)
    except ImportError as error:
        words = f"FILES_URL is set, and the package {error.name} is not installed."
        todo = "Install what .requirements/bucket.lock names, or start by manage.py, which does."
        yield StartFinding(FILES, words, todo, stops=stops)


def files_are_ours(purpose: Purpose) -> Iterator[StartFinding]:
    """Whether the bucket is that of this database: neither another's, nor emptied, nor a new one without the files."""
    wrapper = connections["default"]
    if not settings.FILES_BUCKET or not has_tables(wrapper):
        return
    stops = purpose is not Purpose.PAGE
    try:
        known = whose_files()
        if known is not None:
            if known.first_moment != first_moment(wrapper):
                words = (
                    f"{files_place()} has the files of {known.who}, of another database ({FILES_MARKER} in it says so)."
                )
                todo = f"Look at FILES_URL and DATABASE_URL. {_ACCEPT}"
                yield StartFinding(FILES, words, todo, stops=stops, by_choice=True)
        elif purpose is not Purpose.RESTORE:  # which brings the files along
            yield from _unmarked(wrapper, stops)
    except (StoreAway, ImportError):
        return  # told by `bucket_answers`


def _unmarked(wrapper: BaseDatabaseWrapper, stops: bool) -> Iterator[StartFinding]:
    """A bucket without a mark: a new one is taken where there are no files yet, neither in it nor named by a row."""
    if named := a_named_file():
        yield StartFinding(
            FILES,
            f"{described(wrapper)} names files such as {named}, and in {files_place()} nothing says that it is this "
            "shop’s: it was emptied, or is a new or another bucket.",
            "Set FILES_URL as it was, or bring the files back: python3 manage.py restore --replace FILE, of the newest "
            f"backup. {_ACCEPT}",
            stops=stops,
            by_choice=True,
        )
    elif any(True for _ in stored_files()):
        words = f"Somebody’s files are in {files_place()}, and nothing there says that they are this shop’s."
        yield StartFinding(
            FILES, words, f"Name an empty folder of it in FILES_URL. {_ACCEPT}", stops=stops, by_choice=True
        )


def key_is_shared(purpose: Purpose) -> Iterator[StartFinding]:
    """Whether this machine has the secret key of the others."""
    if has_tables(connections["default"]) and is_anothers_key(str(settings.SECRET_KEY)):
        yield StartFinding(
            "Secret key",
            "It is another than the machines of this database share. What one of them signs or seals (sessions, links "
            "in letters, second factors, the mail password) is nothing to the next.",
            "Give every machine the same: set SECRET_KEY, or copy secret_key of a machine that serves into DATA_DIR "
            "(mode 600). If it was changed on purpose on all of them: python3 manage.py check_shop --accept.",
            stops=purpose is not Purpose.PAGE,
            by_choice=True,
        )
