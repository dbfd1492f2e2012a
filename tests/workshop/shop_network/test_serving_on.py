"""The keeper beside the server: what it tells the server, and that the two end together."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from django.conf import settings as shop_settings

from tests.faults.served import free_port
from workshop.shop_network.served import FOLDER, VARIABLE, served_by_now

WITHIN_S = 120
# The keeper with a stand-in for the server, which writes down what it is told.
KEEPER = """
import os, sys
from pathlib import Path
import django
django.setup()
from workshop.shop_network import keeping
folder, page_port = Path(sys.argv[1]), int(sys.argv[2])
keeping.LOOKS_EVERY_S = 0.2
keeping.who_has = lambda name, interfaces: ["192.0.2.9"]  # so that nothing is announced
keeping.local_addresses = lambda listening_on: (folder / "addresses").read_text().split()
wanted = keeping.AskedFor(folder / "network", "127.0.0.1", 8000, page_port, "workshop")
network = keeping.ShopNetwork(wanted, say=lambda words: None)
server = [sys.executable, "-c", (folder / "server.py").read_text(), str(folder / "told")]
told = lambda served: print(served.page_address, flush=True)
sys.exit(keeping.serve_until_stopped(network, server, os.environ, tell=told, keep_open=os.open(folder, os.O_RDONLY)))
"""
SERVER = """
import os, signal, sys, time
def write(words):
    with open(sys.argv[1], "a") as file: file.write(words + "\\n")
def stop(*_):
    write("stopped"); sys.exit(0)
signal.signal(signal.SIGHUP, lambda *_: write("read anew"))
signal.signal(signal.SIGINT, stop); signal.signal(signal.SIGTERM, stop)
write("began " + os.environ["SHOP_NETWORK"] + " " + str(os.getpid()))
while True: time.sleep(0.1)
"""


def keeper(folder: Path) -> subprocess.Popen[str]:
    (folder / "server.py").write_text(SERVER)
    (folder / "addresses").write_text("192.168.1.5")
    return subprocess.Popen(
        [sys.executable, "-c", KEEPER, str(folder), str(free_port())],
        cwd=shop_settings.BASE_DIR,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "workshop.settings", "DATA_DIR": str(folder)},
        stdout=subprocess.PIPE,
        text=True,
    )


def wait_for(folder: Path, words: str) -> list[str]:
    give_up = time.monotonic() + WITHIN_S
    while True:
        lines = (folder / "told").read_text().splitlines() if (folder / "told").exists() else []
        if any(line.startswith(words) for line in lines):
            return lines
        assert time.monotonic() < give_up, lines
        time.sleep(0.05)


def test_the_server_is_told_of_a_changed_address_and_stopped_in_peace(tmp_path: Path) -> None:
    process = keeper(tmp_path)
    try:
        assert wait_for(tmp_path, "began")[0].startswith("began 1 ")
        assert process.stdout is not None
        assert process.stdout.readline().startswith("http://192.168.1.5:")
        (tmp_path / "addresses").write_text("192.168.1.6 10.0.0.2")
        assert process.stdout.readline().startswith("http://192.168.1.6:")
        wait_for(tmp_path, "read anew")
        served = served_by_now(tmp_path, {VARIABLE: "1"})
        assert served is not None
        assert {"192.168.1.6", "10.0.0.2"} < set(served.hosts)
        assert (tmp_path / FOLDER / "server.pem").exists()
        process.send_signal(signal.SIGTERM)
        assert process.wait(WITHIN_S) == 0
        assert wait_for(tmp_path, "stopped")[-1] == "stopped"
    finally:
        process.kill()
        process.communicate()


def test_a_server_whose_keeper_is_killed_ends_with_it(tmp_path: Path) -> None:
    process = keeper(tmp_path)
    try:
        wait_for(tmp_path, "began")
    finally:
        process.kill()
        process.communicate()
    assert wait_for(tmp_path, "stopped")[-1] == "stopped"
