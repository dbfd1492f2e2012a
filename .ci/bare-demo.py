"""Both ends of `manage.py demo` on a bare machine: started as the README says, it serves, signs in and makes a PDF."""

from __future__ import annotations

import http.cookiejar
import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

START_WITHIN_S = 900  # packages, demo and all
PORT = sys.argv[1]
ADDRESS = f"http://127.0.0.1:{PORT}"
LOG = Path("/tmp/demo.log")  # noqa: S108  this machine's own

browser = urllib.request.build_opener(
    urllib.request.ProxyHandler({}), urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
)


def page(path: str, **form: str) -> tuple[bytes, str]:
    data = urllib.parse.urlencode(form).encode() if form else None
    with browser.open(ADDRESS + path, data, timeout=60) as answer:
        return answer.read(), answer.headers["Content-Type"]


def token(text: bytes) -> str:
    found = re.search(rb'name="csrfmiddlewaretoken" value="([^"]+)"', text)
    assert found, "no form on the page"
    return found[1].decode()


def main() -> None:
    begun = time.monotonic()
    with LOG.open("wb") as log:
        demo = subprocess.Popen(
            ["python3", "manage.py", "demo", "--port", PORT], stdout=log, stderr=log, stdin=subprocess.DEVNULL
        )
    try:
        while True:
            try:
                text, _ = page("/sign-in/")
                break
            except OSError:
                assert demo.poll() is None, f"the demo ended with status {demo.returncode}"
                assert time.monotonic() - begun < START_WITHIN_S, "no sign-in page"
                time.sleep(0.5)
        print(f"The sign-in page answers after {time.monotonic() - begun:.0f} s.")
        login = re.search(r"^ +(\S+) +(\S+) +(\S+)$", Path(".demo/demo_logins.txt").read_text(), re.MULTILINE)
        assert login, "no logins"
        page("/sign-in/", csrfmiddlewaretoken=token(text), username=login[2], password=login[3], next="/")
        tickets, _ = page("/counter/tickets/")
        number = re.search(rb'href="/counter/tickets/(\d+)/"', tickets)
        assert number, "no ticket on the list of tickets"
        ticket = f"/documents/{number[1].decode()}/work_order/issue/"
        text, _ = page(f"/counter/tickets/{number[1].decode()}/")
        pdf, kind = page(ticket, csrfmiddlewaretoken=token(text))
        assert kind == "application/pdf", kind
        assert pdf.startswith(b"%PDF-"), pdf[:20]
        print(f"A work order of {len(pdf)} bytes came as {kind}.")
        demo.send_signal(signal.SIGINT)
        assert demo.wait(timeout=60) == 0, demo.returncode
        said = LOG.read_text()
        assert "WeasyPrint" not in said, "a library speaks for itself"
        assert "Everything but PDFs" not in said, "PDFs are missing"
        assert "Traceback" not in said
    finally:
        if demo.poll() is None:
            os.kill(demo.pid, signal.SIGKILL)
        print(LOG.read_text())


main()
