"""What the machine under the shop does not give: a full disk, a database away, a photo store that is broken.

Each is said in words the person at the screen can act on, with status 503; the rest of the shop goes on.
"""

from __future__ import annotations

import errno
import tempfile
from traceback import walk_tb

from django.db import InterfaceError, OperationalError
from django.http import HttpResponse
from django.template.loader import render_to_string

from workshop.apart.working import NotDone
from workshop.web.request_id import current_request_id
from workshop.web.storage import StoreAway, StoreBroken

_RETRY_AFTER_S = 10

FULL = (
    "The disk is full",
    "Nothing of this was saved. Tell whoever looks after the shop’s computer to make room on its disk, then send it "
    "again. What is stored already can be read meanwhile.",
)
READ_ONLY = (
    "Nothing can be saved just now",
    "The shop’s data can be read but not changed. Tell whoever looks after the shop’s computer that its disk or "
    "database is read-only, then send it again.",
)
BUSY = (
    "The shop is very busy",
    "Others were writing for a long time, and this was not saved. Send it again in a moment.",
)
CROWDED = (
    "The shop is very busy",
    "Too many large files are being sent at once, and this was not saved. Send it again in a moment.",
)
DISK = (
    "The disk does not take what is written",
    "Nothing of this was saved. The disk may be full, or about to fail: tell whoever looks after the shop’s computer, "
    "and send it again once that is mended. What is stored already can be read meanwhile.",
)
AWAY = (
    "The database does not answer",
    "Nothing of this was saved. It may be starting again: wait half a minute and send it once more.",
)
LOST = (
    "The database does not answer",
    "It went away while this was under way, and may be starting again. Most likely nothing of this was saved, but "
    "nobody can say so for certain: wait half a minute, look whether it is there, and if it is not, send it once more.",
)
MOVED = (
    "The shop’s database is not there",
    "Its file was moved or replaced while the shop was open. Nothing of this was saved. Tell whoever looks after the "
    "shop’s computer to stop the server and put the file back where it was, then send it again.",
)
MOVED_MEANWHILE = (
    "The shop’s database is not there",
    "Its file was moved or replaced while this was under way, and nobody can say whether this was saved. Tell whoever "
    "looks after the shop’s computer to stop the server and put the file back where it was. Then look whether it is "
    "there, and if it is not, send it once more.",
)
TAKEN = (
    "The shop is being restored or upgraded",
    "Another machine is at it, and nothing of this was saved. It takes some minutes: then send it once more, or look "
    "whether what you need is still there, since a restore brings the shop of an earlier hour back.",
)
DAMAGED = (
    "The shop’s database is damaged",
    "A part of it could not be read, and nothing of this was saved. Write on paper what you do, and tell whoever looks "
    "after the shop’s computer at once: Office, System says what to do.",
)
STORE = (
    "Photos and documents cannot be stored",
    "The folder they are kept in does not take files, so this was not saved. Everything without photos or papers goes "
    "on. Tell whoever looks after the shop’s computer.",
)

STORE_AWAY = (
    "Photos and documents cannot be reached",
    "The store they are kept in does not answer, or refuses. If you sent something, it was not saved: send it again in "
    "a moment. Everything without photos or papers goes on. If it stays so, tell whoever looks after the shop’s "
    "computer.",
)


def fault_page(title: str, text: str) -> HttpResponse:
    """Rendered without the request, which would ask the database who is signed in."""
    context = {"title": title, "text": text, "request_id": current_request_id()}
    page = HttpResponse(render_to_string("errors/fault.html", context), status=503)
    page["Retry-After"] = str(_RETRY_AFTER_S)
    return page


def words_for(error: BaseException) -> tuple[str, str] | None:
    """Title and text for a fault of the machine; None for a fault of the program."""
    if isinstance(error, NotDone):
        return BUSY[0], f"{error} Nothing of this was saved."
    if isinstance(error, StoreAway):
        return STORE_AWAY
    codes = _os_errors(error)
    state = getattr(error.__cause__, "sqlstate", None) or ""
    sqlite = getattr(error.__cause__, "sqlite_errorname", "")
    if codes & {errno.ENOSPC, errno.EDQUOT, errno.EFBIG} or sqlite == "SQLITE_FULL" or state == "53100":
        return FULL
    if codes & {errno.EROFS} or sqlite.startswith("SQLITE_READONLY") or state == "25006":
        return READ_ONLY
    if isinstance(error, StoreBroken):
        return STORE
    if sqlite.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")) or state in {"XX001", "XX002"}:
        return DAMAGED
    if sqlite.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")) or state in {"55P03", "40P01"}:
        return BUSY
    if sqlite.startswith("SQLITE_IOERR") or state.startswith("58") or _takes_no_upload(error):
        return DISK
    if isinstance(error, OperationalError | InterfaceError) and _is_away(sqlite, state):
        return LOST if _broke_half_way(error, sqlite, state) else AWAY
    return None


def _takes_no_upload(error: BaseException) -> bool:
    """Python looks for a folder that takes a file, and where every disk is full it says that there is no folder."""
    return isinstance(error, FileNotFoundError) and any(
        frame.f_code.co_filename == tempfile.__file__ for frame, _ in walk_tb(error.__traceback__)
    )


def _is_away(sqlite: str, state: str) -> bool:
    """The connection; not a statement that is wrong, of which PostgreSQL always gives the state."""
    if state:
        return state.startswith(("08", "57P", "53"))
    return not sqlite or sqlite.startswith("SQLITE_CANTOPEN")


def _broke_half_way(error: BaseException, sqlite: str, state: str) -> bool:
    """Whether there was a connection before: a commit may then have gone through without its answer."""
    if sqlite or state in {"57P03", "53300"}:
        return False
    return all(frame.f_code.co_name != "get_new_connection" for frame, _ in walk_tb(error.__traceback__))


def _os_errors(error: BaseException) -> set[int]:
    """Numbers of the operating system's errors behind this one."""
    found: set[int] = set()
    cause: BaseException | None = error
    while cause is not None and len(found) < 10:
        if isinstance(cause, OSError) and cause.errno:
            found.add(cause.errno)
        if cause.__cause__ is cause:
            break
        cause = cause.__cause__
    return found
