"""Names, sign-in names and roles of those who work here, changed by an owner at any time."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from tests.at_once import at_once
from tests.factories import PASSWORD, ShopFactory, TicketFactory, UserFactory
from tests.known import known
from workshop.office.changing_staff import change_staff
from workshop.promise.people import bench_staff
from workshop.staff.adding import StaffProblem, add_staff, set_active
from workshop.staff.models import User
from workshop.web.versions import StaleVersion


@pytest.fixture
def owner(db: None) -> User:
    return UserFactory(owner=True)


@pytest.fixture
def clerk(owner: User) -> User:
    return UserFactory(shop=owner.shop, username="quill", with_password=True)


@pytest.fixture
def office(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


def form_of(member: User, **changed: Any) -> dict[str, Any]:
    """The page's form as it stands, but for what is changed."""
    stored = {"first_name": member.first_name, "last_name": member.last_name, "username": member.username}
    return {**stored, "roles": member.roles.split(), "seen_version": member.version, **changed}


def page_of(member: User) -> str:
    return reverse("office:staff_member", args=[member.pk])


def test_several_roles_open_their_rooms_at_once_and_taking_one_away_closes_it(office: Client, clerk: User) -> None:
    theirs = Client()
    theirs.force_login(clerk)
    assertNotContains(theirs.get(reverse("counter:today")), f'href="{reverse("office:overview")}"')
    assert theirs.get(reverse("office:overview")).status_code == 403

    for _ in range(2):  # the second time changes nothing
        clerk.refresh_from_db()
        sent = form_of(clerk, roles=["owner", "mechanic", "counter"])
        assertRedirects(office.post(page_of(clerk), sent), reverse("office:staff"))
    assertContains(theirs.get(reverse("counter:today")), f'href="{reverse("office:overview")}"')
    assert theirs.get(reverse("office:overview")).status_code == 200

    clerk.refresh_from_db()
    office.post(page_of(clerk), form_of(clerk, roles=["mechanic"]))
    assert theirs.get(reverse("office:overview")).status_code == 403
    assert theirs.get(reverse("counter:book_in")).status_code == 403
    assert theirs.get(reverse("bench:board")).status_code == 200


def test_one_person_books_in_repairs_and_hands_over(client: Client, db: None) -> None:
    both = UserFactory(roles="counter mechanic")
    TicketFactory(shop=both.shop, number=7, state="ready")
    client.force_login(both)
    pages = (
        ("counter:today",), ("counter:book_in",), ("counter:ticket", 7), ("bench:board",), ("bench:ticket", 7),
        ("counter:hand_back", 7), ("stores:stock",), ("sums:index",), ("office:specs_unchecked",),
    )  # fmt: skip
    for name, *args in pages:
        assert client.get(reverse(name, args=args)).status_code == 200, name
    page = client.get(reverse("counter:today")).text
    rooms = ("counter:today", "bench:board", "stores:stock", "sums:index")
    assert all(f'<a href="{reverse(room)}"' in page for room in rooms)


class TestWhereTheDayStarts:
    def start(self, client: Client, user: User) -> str:
        client.force_login(user)
        return str(client.get(reverse("home"))["Location"])

    def test_at_the_bench_where_something_of_theirs_is_on_it(self, client: Client, db: None) -> None:
        user = UserFactory(roles="counter mechanic owner")
        TicketFactory(shop=user.shop, number=1, state="on_the_bench", mechanic=user)
        TicketFactory(shop=user.shop, number=2, state="ready")
        assert self.start(client, user) == reverse("bench:board")

    def test_at_the_counter_where_somebody_comes_for_something(self, client: Client, db: None) -> None:
        user = UserFactory(roles="counter mechanic owner")
        other = UserFactory(shop=user.shop, mechanic=True)
        TicketFactory(shop=user.shop, number=1, state="on_the_bench", mechanic=other)
        TicketFactory(shop=user.shop, number=2, state="ready")
        assert self.start(client, user) == reverse("counter:today")

    @pytest.mark.parametrize(
        ("roles", "page"),
        [
            ("counter mechanic", "counter:today"),
            ("mechanic owner", "office:overview"),
            ("counter mechanic owner", "office:overview"),
        ],
    )
    def test_without_work_at_the_first_role_or_the_overview(
        self, client: Client, db: None, roles: str, page: str
    ) -> None:
        TicketFactory(state="ready")  # another shop's
        assert self.start(client, UserFactory(roles=roles)) == reverse(page)


def test_names_and_the_sign_in_name_are_changed(office: Client, clerk: User) -> None:
    office.post(page_of(clerk), form_of(clerk, first_name="Odile", last_name="", username="odile"))
    clerk.refresh_from_db()
    assert (str(clerk), clerk.username, clerk.roles) == ("Odile", "odile", "counter")
    assert clerk.check_password(PASSWORD)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"username": "SALLOW"}, "Someone already signs in by that name. Choose another."),
        ({"username": "two words"}, "Enter a valid username"),
        ({"username": ""}, "Enter this."),
        ({"first_name": ""}, "Enter this."),
        ({"roles": []}, "Choose one role at least."),
        ({"roles": ["king"]}, "not in the list"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field_and_stays_typed(
    office: Client, clerk: User, changed: dict[str, Any], said: str
) -> None:
    UserFactory(username="sallow")  # of another shop: a sign-in name is one person's everywhere
    response = office.post(page_of(clerk), form_of(clerk, **{"last_name": "Typedname", **changed}))
    assertContains(response, said, status_code=422)
    assertContains(response, "Typedname", status_code=422)
    clerk.refresh_from_db()
    assert (clerk.username, clerk.roles, clerk.version) == ("quill", "counter", 1)


def test_their_own_sign_in_name_in_other_capitals_is_theirs(clerk: User) -> None:
    given = form_of(clerk, username="Quill")
    assert change_staff(member=clerk, **given).username == "Quill"


def test_two_owners_at_once_the_second_sees_what_the_first_saved(office: Client, clerk: User) -> None:
    stale = form_of(clerk, roles=["mechanic"])
    office.post(page_of(clerk), form_of(clerk, roles=["counter", "owner"]))
    response = office.post(page_of(clerk), stale)
    assertContains(response, "Somebody changed this while you were typing", status_code=409)
    assert [(one.typed, one.stored) for one in response.context["differences"]] == [("Mechanic", "Counter, Owner")]
    clerk.refresh_from_db()
    assert clerk.roles == "counter owner"
    office.post(page_of(clerk), {**stale, "seen_version": response.context["seen_version"]})  # mine over theirs
    clerk.refresh_from_db()
    assert clerk.roles == "mechanic"


class TestTheLastOwner:
    def test_stays_an_owner_and_is_told_why(self, office: Client, owner: User) -> None:
        UserFactory(shop=owner.shop, owner=True, is_active=False)
        UserFactory(owner=True)  # of another shop
        response = office.post(page_of(owner), form_of(owner, roles=["mechanic"]))
        assertContains(response, "is the only owner who can sign in. Make somebody else one first.", status_code=422)
        owner.refresh_from_db()
        assert (owner.roles, owner.version) == ("owner", 1)

    def test_may_go_once_there_is_another_and_ends_at_a_page_that_is_open(self, office: Client, owner: User) -> None:
        UserFactory(shop=owner.shop, roles="mechanic owner")
        response = office.post(page_of(owner), form_of(owner, roles=["mechanic"]), follow=True)
        assertContains(response, "You are no owner any more")
        assert office.get(reverse("office:staff")).status_code == 403

    def test_somebody_with_other_roles_beside_it_counts(self, owner: User) -> None:
        other = UserFactory(shop=owner.shop, roles="counter owner")
        set_active(member=other, active=False, by=owner)
        with pytest.raises(StaffProblem, match="only owner"):
            set_active(member=owner, active=False, by=other)


@pytest.mark.django_db(transaction=True)
def test_of_two_owners_who_take_the_role_from_each_other_one_is_left() -> None:
    shop = ShopFactory()
    pair = [UserFactory(shop=shop, owner=True), UserFactory(shop=shop, owner=True)]

    def take(number: int) -> str:
        member = User.objects.get(pk=pair[number].pk)
        try:
            change_staff(member=member, **form_of(pair[number], roles=["counter"]))
        except ValidationError:
            return "refused"
        return "done"

    assert sorted(at_once(take, 2)) == ["done", "refused"]
    assert User.objects.filter(shop=shop, roles="owner").count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_owners_who_shut_each_other_out_one_is_left() -> None:
    shop = ShopFactory()
    pair = [UserFactory(shop=shop, owner=True), UserFactory(shop=shop, owner=True)]

    def shut_out(number: int) -> str:
        try:
            set_active(member=User.objects.get(pk=pair[1 - number].pk), active=False, by=pair[number])
        except StaffProblem:
            return "refused"
        return "done"

    assert sorted(at_once(shut_out, 2)) == ["done", "refused"]
    assert User.objects.filter(shop=shop, is_active=True).count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_three_who_save_the_same_person_at_once_two_are_told() -> None:
    clerk = UserFactory()

    def save(number: int) -> str:
        member = User.objects.get(pk=clerk.pk)
        try:
            change_staff(member=member, **form_of(clerk, first_name=f"Name{number}"))
        except StaleVersion:
            return "told"
        return "saved"

    assert sorted(at_once(save, 3)) == ["saved", "told", "told"]


@pytest.mark.django_db(transaction=True)
def test_of_two_who_add_the_same_sign_in_name_at_once_one_is_told() -> None:
    shop = ShopFactory()

    def add(number: int) -> str:
        try:
            add_staff(shop=shop, by=None, username="sallow", first_name=f"N{number}", last_name="", roles=["counter"])
        except ValidationError as refused:
            return refused.message_dict["username"][0]
        return "added"

    assert sorted(at_once(add, 2)) == ["Someone already signs in by that name. Choose another.", "added"]


@pytest.mark.parametrize("roles", ["", "king", "owner counter", "counter counter"])
def test_the_database_keeps_roles_that_are_some(clerk: User, roles: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        User.objects.filter(pk=clerk.pk).update(roles=roles)


def test_a_mechanic_with_another_role_is_reckoned_with_at_the_bench(owner: User) -> None:
    both = UserFactory(shop=owner.shop, roles="counter mechanic")
    assert both in bench_staff(known(owner.shop).pk)


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("step_by_step")
def test_people_of_one_role_keep_it() -> None:
    """Back to before several roles, with people in the table, and forward again."""
    before = [("workshop", "0082_old_parts_of_a_ticket")]
    call_command("migrate", *before[0], verbosity=0)
    try:
        old = MigrationExecutor(connection).loader.project_state(before).apps.get_model("workshop", "User")
        for role in ("counter", "mechanic", "owner"):
            old.objects.create(username=f"was-{role}", role=role, password="!")  # noqa: S106  opens nothing
    finally:
        call_command("migrate", verbosity=0)
    assert {one.username: one.roles for one in User.objects.all()} == {
        "was-counter": "counter", "was-mechanic": "mechanic", "was-owner": "owner",
    }  # fmt: skip
    assert set(User.objects.values_list("version", flat=True)) == {1}
