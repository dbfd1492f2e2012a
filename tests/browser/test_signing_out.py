"""After signing out the browser shows nothing of the shop again, and what waits on the tablet is not lost unsaid."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from workshop.models import OpenSession, User

SignIn = Callable[[Page, User], None]
KEPT_WHOLE = "dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))"
PUT_ASIDE = """async (user) => {
  const asked = indexedDB.open("bench", 1);
  asked.onupgradeneeded = () => {
    asked.result.createObjectStore("queue", { keyPath: "seq", autoIncrement: true });
    asked.result.createObjectStore("own", { keyPath: "run" });
  };
  const database = await new Promise((yes, no) => { asked.onsuccess = () => yes(asked.result); asked.onerror = no; });
  const change = database.transaction("queue", "readwrite");
  for (const name of [user, user, "0"]) change.objectStore("queue").add({ user: name, status: "waiting" });
  await new Promise((yes, no) => { change.oncomplete = yes; change.onabort = no; });
  database.close();
}"""
HOW_MANY = """async () => {
  const asked = indexedDB.open("bench");
  const database = await new Promise((yes, no) => { asked.onsuccess = () => yes(asked.result); asked.onerror = no; });
  const all = database.transaction("queue").objectStore("queue").getAll();
  const kept = await new Promise((yes, no) => { all.onsuccess = () => yes(all.result); all.onerror = no; });
  database.close();
  return kept.length;
}"""


def sign_out(page: Page) -> None:
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")


def test_going_back_after_it_shows_the_sign_in_page(tablet: Page, sign_in: SignIn, people: dict[str, User]) -> None:
    sign_in(tablet, people["owner"])
    tablet.goto("/office/staff/")
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Staff")
    sign_out(tablet)
    tablet.go_back()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Sign in")
    expect(tablet.get_by_text(people["mechanic"].username)).to_have_count(0)


def test_a_page_that_the_browser_kept_whole_is_asked_for_anew(
    tablet: Page, sign_in: SignIn, people: dict[str, User]
) -> None:
    """As when somebody signed out in another tab, or the session ended, and this page comes back out of memory."""
    sign_in(tablet, people["owner"])
    tablet.goto("/office/staff/")
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Staff")
    OpenSession.objects.all().delete()
    tablet.evaluate(KEPT_WHOLE)
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Sign in")


def test_what_waits_is_said_anywhere_and_stays(tablet: Page, sign_in: SignIn, people: dict[str, User]) -> None:
    owner = people["owner"]
    sign_in(tablet, owner)
    tablet.goto("/counter/")
    tablet.evaluate(PUT_ASIDE, str(owner.pk))
    tablet.once("dialog", lambda dialog: dialog.dismiss())  # a click waits until it is answered
    with tablet.expect_event("dialog") as asked:
        tablet.get_by_role("button", name="Sign out").click()
    assert asked.value.message.startswith("2 not sent yet")
    assert OpenSession.objects.filter(user=owner).exists()
    tablet.once("dialog", lambda dialog: dialog.accept())
    with tablet.expect_event("dialog"):
        tablet.get_by_role("button", name="Sign out").click()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Sign in")
    assert tablet.evaluate(HOW_MANY) == 3


def test_a_store_that_was_never_made_is_not_made_and_asks_nothing(
    tablet: Page, sign_in: SignIn, people: dict[str, User]
) -> None:
    sign_in(tablet, people["owner"])
    tablet.goto("/office/staff/")
    sign_out(tablet)
    assert tablet.evaluate("async () => (await indexedDB.databases()).length") == 0
