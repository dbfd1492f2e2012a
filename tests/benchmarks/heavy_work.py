"""What costs a server most, sent by people who mean it: small files that unpack to much, and papers that never end."""

from __future__ import annotations

import http.client
import io
import statistics
import threading
import time
import uuid
import zipfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import psutil
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from PIL import Image

from diagnosis.models import Run, Tick
from tests.factories import PartFactory, PartLineFactory, PhotoFactory, UserFactory
from tests.faults.served import STEPS, TOKEN, Place, Server, Staff, make_shop
from tests.known import known
from workshop.links.links import make_link
from workshop.tickets.models import Ticket

PARTS, PHOTOS = 500, 200
GIVEN_UP_AFTER_S = 180
PULSE_S = 0.05


@dataclass(frozen=True)
class HeavyShop:
    """People of a shop, the secret of a customer's link, and a ticket with more on it than any has."""

    staff: Staff
    owner: str
    secret: str
    ticket: int


def make_heavy_shop(place: Place) -> HeavyShop:
    """A shop whose ticket has PARTS parts and PHOTOS photos."""
    staff = make_shop(place)
    small = noise((480, 360))
    folder = place.folder / "files" / "photos"
    folder.mkdir(parents=True)
    with place.records():
        ticket = Ticket.objects.get(number=staff.ticket)
        owner = Client()
        owner.force_login(UserFactory(shop=ticket.shop, owner=True))
        for number in range(PARTS):
            PartLineFactory(ticket=ticket, part=PartFactory(description=f"Seal of size {number}"))
        for number in range(PHOTOS):
            photo = PhotoFactory(ticket=ticket, for_customer=True, moment="before", caption=f"Shot {number}")
            for name in (photo.file.name, photo.thumbnail.name):
                (place.folder / "files" / known(name)).write_bytes(small)
        _, secret = make_link(ticket=ticket, by=None)
        return HeavyShop(staff, known(owner.session.session_key), secret, ticket.number)


def noise(size: tuple[int, int]) -> bytes:
    out = io.BytesIO()
    Image.effect_noise(size, 90).convert("RGB").save(out, "JPEG", quality=80)
    return out.getvalue()


def track_bomb() -> bytes:
    """A zip of 50 kB: two tracks, each of 25 MB of tags that hold nothing."""
    head = b'<gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    return zipped({f"{n}.gpx": head + b"<a/>" * (25_000_000 // 4) + b"</trkseg></trk></gpx>" for n in range(2)})


def book_bomb() -> bytes:
    """A workbook of some 50 kB whose one sheet unpacks to 40 MB of cells."""
    row = b"<row>" + b"<c><v>1</v></c>" * 50 + b"</row>"
    sheet = b"<sheetData>" + row * (40_000_000 // len(row)) + b"</sheetData></worksheet>"
    return book_of(b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">' + sheet)


def book_of(sheet: bytes) -> bytes:
    """The least workbook that has this sheet."""
    office, package = (
        "http://schemas.openxmlformats.org/officeDocument/2006/relationships",
        "http://schemas.openxmlformats.org/package/2006",
    )
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    return zipped(
        {
            "[Content_Types].xml": (
                f'<Types xmlns="{package}/content-types"><Default Extension="rels" '
                'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
                f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
                f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kind}.worksheet+xml"/></Types>'
            ).encode(),
            "_rels/.rels": (
                f'<Relationships xmlns="{package}/relationships"><Relationship Id="rId1" '
                f'Type="{office}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
            ).encode(),
            "xl/workbook.xml": (
                f'<workbook xmlns="{main}" xmlns:r="{office}"><sheets>'
                '<sheet name="Sheet" sheetId="1" r:id="rId1"/></sheets></workbook>'
            ).encode(),
            "xl/_rels/workbook.xml.rels": (
                f'<Relationships xmlns="{package}/relationships"><Relationship Id="rId1" '
                f'Type="{office}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>'
            ).encode(),
            "xl/worksheets/sheet1.xml": sheet,
        }
    )


def picture_bomb() -> bytes:
    """A PNG of some 260 kB with 64 million see-through points."""
    out = io.BytesIO()
    Image.new("RGBA", (8000, 8000), (20, 120, 40, 90)).save(out, "PNG", compress_level=9)
    return out.getvalue()


def zipped(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def send(server: Server, path: str, session: str, files: dict[str, SimpleUploadedFile], sent: dict[str, str]) -> int:
    """The status that answers a form with files, or 0 where none came."""
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=GIVEN_UP_AFTER_S)
    headers = {"Cookie": f"sessionid={session}; csrftoken={TOKEN}", "X-CSRFToken": TOKEN}
    try:
        connection.request(
            "POST", path, encode_multipart(BOUNDARY, {**sent, **files}), headers | {"Content-Type": MULTIPART_CONTENT}
        )
        answer = connection.getresponse()
        answer.read()
        return answer.status
    except (OSError, http.client.HTTPException):
        return 0
    finally:
        connection.close()


def attacks(server: Server, shop: HeavyShop) -> dict[str, Sequence[Callable[[], int]]]:
    """What is sent at once, by the name of it; each call answers with its status."""
    tracks, picture, book = track_bomb(), picture_bomb(), book_bomb()

    def sends(path: str, session: str, field_name: str, content: bytes, **sent: str) -> Callable[[], int]:
        return lambda: send(
            server, path, session, {field_name: SimpleUploadedFile("a.bin", content, "application/octet-stream")}, sent
        )

    def issues(kind: str) -> Callable[[], int]:
        return lambda: send(server, f"/documents/{shop.ticket}/{kind}/issue/", shop.staff.clerk, {}, {"paper": "A4"})

    photo = f"/counter/tickets/{shop.ticket}/photos/"
    return {
        "eight zips through a link": [sends(f"/c/{shop.secret}/rides/", "", "tracks", tracks) for _ in range(8)],
        "four workbooks": [sends("/office/moving/in/customers/", shop.owner, "file", book) for _ in range(4)],
        "four pictures": [sends(photo, shop.staff.clerk, "photos", picture, caption="x") for _ in range(4)],
        "a report of 500 parts and 200 photos": [issues("work_order"), issues("customer_report")],
    }


@dataclass
class Pulse:
    """How long the health page and a tick took (s), asked again and again while something else goes on."""

    health: list[float] = field(default_factory=list)
    ticks: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


@contextmanager
def pulse(server: Server, staff: Staff) -> Iterator[Pulse]:
    """Ask from two threads, each as soon as its last answer came and PULSE_S went by."""
    seen, over = Pulse(), threading.Event()

    def again_and_again(times: list[float], ask: Callable[[], int]) -> None:
        while not over.is_set():
            began = time.monotonic()
            try:
                status = ask()
            except (OSError, http.client.HTTPException) as error:
                status = 0
                seen.wrong.append(repr(error))
            times.append(time.monotonic() - began)
            if status != 200:
                seen.wrong.append(str(status))
            over.wait(PULSE_S)

    def tick() -> int:
        path = f"/bench/{staff.ticket}/run/{staff.run}/{STEPS[0]}/"
        act = "take-back" if state[1] % 2 else "answer"
        sent = {"version": str(state[0]), "client_id": str(uuid.uuid4()), "outcome": "ruled_out", "note": ""}
        status = server.ask("POST", f"{path}{act}/", staff.mechanic, sent, htmx=True)[0]
        state[:] = [number + (status == 200) for number in state]
        return status

    state = where_it_stands(server.place, staff)
    threads = [
        threading.Thread(target=again_and_again, args=(seen.health, lambda: server.ask("GET", "/health")[0])),
        threading.Thread(target=again_and_again, args=(seen.ticks, tick)),
    ]
    for thread in threads:
        thread.start()
    try:
        yield seen
    finally:
        over.set()
        for thread in threads:
            thread.join(timeout=GIVEN_UP_AFTER_S)


def where_it_stands(place: Place, staff: Staff) -> list[int]:
    """The version of the run, and how often its first step was answered or taken back."""
    with place.records():
        return [Run.objects.get(pk=staff.run).version, Tick.objects.filter(run=staff.run).count()]


def at_once(calls: Sequence[Callable[[], int]]) -> list[int]:
    with ThreadPoolExecutor(len(calls)) as threads:
        return sorted(threads.map(lambda call: call(), calls))


def late(times: Sequence[float]) -> float:
    """The 95th percentile."""
    return statistics.quantiles(times, n=20)[-1] if len(times) > 1 else max(times)


def serving_memory(server: Server) -> dict[int, float]:
    """Bytes of each process that answers requests, without those that work apart."""
    assert server.process is not None
    return {one.pid: one.memory_info().rss for one in psutil.Process(server.process.pid).children()}


def memory_of_all(server: Server) -> float:
    """Bytes of every process of the server; what several share counts once where the system says so."""
    assert server.process is not None
    whole = psutil.Process(server.process.pid)
    total = 0.0
    for one in [whole, *whole.children(recursive=True)]:
        try:
            total += one.memory_full_info().pss if Path("/proc").exists() else one.memory_info().rss
        except psutil.Error:
            continue
    return total


class MostMemory:
    """The most that all processes of a server took together while it is entered (bytes)."""

    def __init__(self, server: Server) -> None:
        self.server, self.most, self._over = server, 0.0, threading.Event()
        self._thread = threading.Thread(target=self._look)

    def __enter__(self) -> MostMemory:
        self._thread.start()
        return self

    def __exit__(self, *problem: object) -> None:
        self._over.set()
        self._thread.join(timeout=GIVEN_UP_AFTER_S)

    def _look(self) -> None:
        while not self._over.wait(0.2):
            self.most = max(self.most, memory_of_all(self.server))
