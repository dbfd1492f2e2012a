"""A second device in the shop's network, with a list of trusted authorities of its own (NSS), as a tablet has one."""

from __future__ import annotations

import datetime as dt
import json
import os
import signal
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest
from django.contrib.auth.hashers import Argon2PasswordHasher
from playwright.sync_api import Browser, Page, expect
from playwright.sync_api import Error as PlaywrightError

from diagnosis.models import Tick
from tests.browser.conftest import CHROMIUM_SWITCHES, PATIENCE_MS, SCREENS
from tests.browser.test_bench_offline import all_sent, answer, until
from tests.browser.trust_store import nss_is_there, trust
from tests.factories import PASSWORD
from tests.faults.served import STEPS, Place, Server, Staff, free_port, make_shop
from workshop.models import User
from workshop.system_packages import browser as path_of_browser

NAME = f"workshop-tried-out-{os.getpid()}"  # nobody else of this machine has it
THIS_PAGE_IS_KEPT = """async () => {
  const wanted = document.querySelector("[data-panels]").dataset.panels;
  const here = await caches.match(location.pathname), panels = await caches.match(wanted);
  return Boolean(navigator.serviceWorker.controller && here && panels);
}"""
Device = Callable[[], AbstractContextManager[Page]]


class NetworkServer(Server):
    """`serve --shop-network` on this machine's own loop."""

    def __init__(self, place: Place) -> None:
        super().__init__(place, HTTPS="1")
        self.page_port = free_port()
        self.options = ("--shop-network", "--address", "127.0.0.1", "--name", NAME, "--workers", "1")
        self.options += ("--page-port", str(self.page_port))

    def answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.page_port}/standing", timeout=5) as standing:
                return bool(json.load(standing)["serving"])
        except OSError:
            return False


@pytest.fixture
def shop(tmp_path: Path, db: None) -> Iterator[tuple[NetworkServer, Staff, User]]:
    place = Place(tmp_path / "shop")
    staff = make_shop(place)
    with place.records():
        mechanic = User.objects.get(roles=User.Role.MECHANIC)
        as_served = Argon2PasswordHasher()  # the tests' own is quicker, and the server knows none such
        mechanic.password = as_served.encode(PASSWORD, as_served.salt())
        mechanic.save()
    server = NetworkServer(place)
    try:
        server.start()
        yield server, staff, mechanic
    finally:
        server.kill()


@pytest.fixture
def device(chromium: Browser, tmp_path: Path) -> Device:
    """Switch the device on: a page of its own, with what it trusts by now."""
    switches = [switch for switch in CHROMIUM_SWITCHES if "resolver" not in switch]
    switches.append(f"--host-resolver-rules=MAP {NAME}.local 127.0.0.1, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1")

    @contextmanager
    def switched_on() -> Iterator[Page]:
        home = {"HOME": str(tmp_path / "device"), "XDG_DATA_HOME": str(tmp_path / "device" / "data")}
        env: dict[str, str | float | bool] = {**os.environ, **home}
        browser = chromium.browser_type.launch(executable_path=path_of_browser(), args=switches, env=env)
        try:
            context = browser.new_context(locale="en-GB", reduced_motion="reduce", **SCREENS["tablet"])
            context.set_default_timeout(PATIENCE_MS)
            yield context.new_page()
        finally:
            browser.close()

    return switched_on


def check_device(page: Page) -> None:
    page.get_by_role("button", name="Check this device").click()


@pytest.mark.any_database
def test_a_new_tablet_comes_to_trust_the_shop_and_goes_on_without_a_network(
    shop: tuple[NetworkServer, Staff, User],
    device: Device,
    axe: Callable[..., None],
    tmp_path: Path,
) -> None:
    if not nss_is_there():
        pytest.skip("No NSS, so no list of authorities for a device of its own.")
    server, staff, mechanic = shop
    by_name = f"https://{NAME}.local:{server.port}/"
    with device() as page:
        page.goto(f"http://127.0.0.1:{server.page_port}/")
        axe(page)
        check_device(page)
        expect(page.locator("#result")).to_contain_text("does not trust the shop yet")
        page.clock.set_system_time("2001-02-03T04:05:06")
        check_device(page)
        expect(page.locator("#result")).to_contain_text("The clocks differ: this device says 03/02/2001")
        page.clock.set_system_time(dt.datetime.now(dt.UTC))
        with pytest.raises(PlaywrightError, match="ERR_CERT_AUTHORITY_INVALID"):
            page.context.new_page().goto(by_name)  # whose error page stays there
        page.goto(f"http://{NAME}.local:{server.page_port}/")
        with page.expect_download() as coming:
            page.get_by_role("link", name="Take the certificate").click()
        coming.value.save_as(tmp_path / "workshop-authority.crt")
    trust(tmp_path / "device", tmp_path / "workshop-authority.crt")
    with device() as page:
        for host in (f"{NAME}.local", "127.0.0.1"):
            page.goto(f"http://{host}:{server.page_port}/")
            check_device(page)
            expect(page.locator("#result")).to_contain_text("It worked")
        page.goto(f"http://{NAME}.local:{server.page_port}/")
        page.get_by_role("link", name="Open the shop").click()
        page.get_by_label("Sign-in name").fill(mechanic.username)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page).to_have_url(f"{by_name}bench/")  # where this role starts
        page.goto(f"{by_name}bench/{staff.ticket}/run/{staff.run}/{STEPS[0]}/")
        until(lambda: page.evaluate(THIS_PAGE_IS_KEPT))
        page.context.set_offline(True)
        answer(page, "Ruled out")
        expect(page.locator("#unsent")).to_contain_text("1 answer not sent yet")
        page.reload()
        expect(page.locator("#unsent")).to_contain_text("1 answer not sent yet")
        page.goto(by_name)  # as the app starts
        expect(page).to_have_url(f"{by_name}bench/")
        page.goto(f"{by_name}bench/{staff.ticket}/run/{staff.run}/{STEPS[0]}/")
        expect(page.locator("#unsent")).to_contain_text("1 answer not sent yet")
        page.context.set_offline(False)
        all_sent(page)
        # The page is plain HTTP under the same name, and stays within reach: the shop sets no HSTS here.
        page.goto(f"http://{NAME}.local:{server.page_port}/")
        expect(page.get_by_role("heading", level=1)).to_have_text("A new tablet, phone or computer")
    with server.place.records():
        assert [tick.step.key for tick in Tick.objects.select_related("step")] == [STEPS[0]]
    process = server.process
    assert process is not None
    process.send_signal(signal.SIGTERM)
    assert process.wait(timeout=60) == 0
    assert not server.answers()
