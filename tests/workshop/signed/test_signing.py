"""A version is read through and signed by somebody who did not write it; what changes afterwards is unread again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from diagnosis.loading import load_plan
from diagnosis.models import Checklist
from diagnosis.stored import plan_of
from tests.factories import ShopFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.models import ChecklistSignature, Shop, User
from workshop.signed.signing import others_who_may_sign, sign, take_signature_back
from workshop.signed.since import changed_since
from workshop.signed.standing import ReadStanding, read_through, read_throughs, unread
from workshop.web.versions import StaleVersion


@pytest.fixture
def shop(db: None) -> Shop:
    return ShopFactory()


@pytest.fixture
def mechanic(shop: Shop) -> User:
    return UserFactory(shop=shop, mechanic=True)


@pytest.fixture
def owner(shop: Shop) -> User:
    return UserFactory(shop=shop, owner=True)


@pytest.fixture
def checklist(db: None) -> Checklist:
    return shipped_checklist("sits-low")


def signed(checklist: Checklist, by: User) -> ChecklistSignature:
    return sign(shop=known(by.shop), checklist=checklist, seen_wording=checklist.wording, by=by)


def reworded(checklist: Checklist, by: User | None, **changed: object) -> Checklist:
    """The next version, with other words in its head, put in use by `by` as their own."""
    origin = Checklist.Origin.SHOP if by else Checklist.Origin.SHIPPED
    plan = replace(plan_of(checklist), **(changed or {"summary": f"After version {checklist.number}."}))  # type: ignore[arg-type]
    load_plan(plan=plan, by=by, origin=origin, written_by=[by] if by else [])
    return Checklist.objects.get(key=checklist.key, is_current=True)


def standing(shop: Shop, checklist: Checklist) -> ReadStanding:
    return read_through(shop, checklist).standing


def test_as_shipped_nobody_of_the_shop_has_read_it(shop: Shop, checklist: Checklist) -> None:
    read = read_through(shop, checklist)
    assert (read.standing, read.caveat) == (ReadStanding.UNREAD, "Not yet read through by this shop")
    assert list(unread(shop)) == [checklist]


@pytest.mark.parametrize("role", ["mechanic", "owner"])
def test_an_owner_or_a_mechanic_signs_with_name_and_time(shop: Shop, checklist: Checklist, role: str) -> None:
    by, before = UserFactory(shop=shop, **{role: True}), timezone.now()
    signature = signed(checklist, by)
    assert (signature.by, signature.as_author) == (by, False)
    assert before <= signature.signed_at <= timezone.now()
    assert (standing(shop, checklist), read_through(shop, checklist).caveat) == (ReadStanding.READ, "")
    assert not unread(shop).exists()


def test_the_counter_and_another_shops_mechanic_do_not_sign(shop: Shop, checklist: Checklist) -> None:
    for by in (UserFactory(shop=shop), UserFactory(mechanic=True)):
        with pytest.raises(PermissionDenied):
            sign(shop=shop, checklist=checklist, seen_wording=1, by=by)
    assert not ChecklistSignature.objects.exists()


def test_a_signature_of_one_shop_says_nothing_in_another(checklist: Checklist, mechanic: User) -> None:
    signed(checklist, mechanic)
    elsewhere = ShopFactory()
    assert standing(elsewhere, checklist) == ReadStanding.UNREAD
    assert list(unread(elsewhere)) == [checklist]


def test_signing_twice_is_once_and_two_people_are_two(shop: Shop, checklist: Checklist, mechanic: User) -> None:
    first = signed(checklist, mechanic)
    assert signed(checklist, mechanic) == first
    second = signed(checklist, UserFactory(shop=shop, owner=True))
    assert [one.pk for one in read_through(shop, checklist).signatures] == [first.pk, second.pk]


def test_the_next_version_is_unread_and_says_what_changed(shop: Shop, checklist: Checklist, mechanic: User) -> None:
    signature = signed(checklist, mechanic)
    second = reworded(checklist, None, summary="Cheapest first, as ever.")
    read = read_through(shop, second)
    assert (read.standing, read.before) == (ReadStanding.CHANGED, signature)
    assert [words.rsplit("“", 1)[1] for words in changed_since(signature, plan_of(second)).head] == [
        "Cheapest first, as ever.”."
    ]
    assert standing(shop, checklist) == ReadStanding.READ, "a job begun with it keeps what was read"


def test_nobody_signs_what_is_not_in_use_any_more(checklist: Checklist, mechanic: User) -> None:
    reworded(checklist, None)
    with pytest.raises(StaleVersion):
        signed(checklist, mechanic)
    assert not ChecklistSignature.objects.exists()


def test_a_cause_worded_anew_elsewhere_makes_the_list_unread(shop: Shop, checklist: Checklist, mechanic: User) -> None:
    """The words of a cause are not kept by version: another list changes them here as well."""
    signature = signed(checklist, mechanic)
    other = shipped_checklist("loses-air")
    shared = sorted(set(checklist.priors) & set(other.priors))[0]
    causes = tuple(
        replace(cause, for_customer="Said otherwise.") if cause.key == shared else cause
        for cause in plan_of(other).causes
    )
    author = UserFactory(shop=shop, owner=True)
    reworded(other, author, causes=causes)
    with pytest.raises(StaleVersion):
        sign(shop=shop, checklist=checklist, seen_wording=1, by=mechanic)
    now = Checklist.objects.get(pk=checklist.pk)
    assert standing(shop, now) == ReadStanding.CHANGED
    assert "Said otherwise." in " ".join(changed_since(signature, plan_of(now)).head)
    assert signed(now, author).as_author
    assert standing(shop, now) == ReadStanding.BY_AUTHOR
    signed(now, mechanic)
    assert standing(shop, now) == ReadStanding.READ


def test_who_changed_it_does_not_sign_it_alone(shop: Shop, checklist: Checklist, owner: User, mechanic: User) -> None:
    own = reworded(checklist, owner)
    assert signed(own, owner).as_author
    read = read_through(shop, own)
    assert (read.standing, read.caveat) == (ReadStanding.BY_AUTHOR, "Read through only by who changed it")
    assert list(unread(shop)) == [own]
    signed(own, mechanic)
    assert standing(shop, own) == ReadStanding.READ


def test_a_change_that_nobody_read_is_not_signed_by_its_author_under_the_next(
    shop: Shop, checklist: Checklist, owner: User, mechanic: User
) -> None:
    third = reworded(reworded(checklist, owner), mechanic)
    assert signed(third, owner).as_author, "their own change of the second version was read by nobody else"
    assert signed(third, mechanic).as_author
    assert standing(shop, third) == ReadStanding.BY_AUTHOR


def test_once_the_change_was_read_its_author_may_sign_the_next(
    shop: Shop, checklist: Checklist, owner: User, mechanic: User
) -> None:
    second = reworded(checklist, owner)
    signed(second, mechanic)
    third = reworded(second, mechanic)
    assert not signed(third, owner).as_author
    assert standing(shop, third) == ReadStanding.READ


def test_a_shipped_text_over_the_shops_own_has_no_author_here(shop: Shop, checklist: Checklist, owner: User) -> None:
    shipped = reworded(reworded(checklist, owner), None)
    assert not signed(shipped, owner).as_author


def test_in_a_shop_of_one_it_stays_said_that_only_its_author_read_it(
    shop: Shop, checklist: Checklist, owner: User
) -> None:
    UserFactory(shop=shop)
    UserFactory(shop=shop, mechanic=True, is_active=False)
    own = reworded(checklist, owner)
    signed(own, owner)
    assert not others_who_may_sign(shop, owner)
    assert standing(shop, own) == ReadStanding.BY_AUTHOR


def test_taken_back_with_a_reason_it_is_unread_and_the_signature_stays_on_record(
    shop: Shop, checklist: Checklist, mechanic: User, owner: User
) -> None:
    signature = signed(checklist, mechanic)
    take_signature_back(signature=signature, reason=" Step 4 is wrong for coils. ", by=owner)
    assert (signature.taken_back_by, signature.taken_back_why) == (owner, "Step 4 is wrong for coils.")
    assert standing(shop, checklist) == ReadStanding.UNREAD
    assert signed(checklist, mechanic).pk != signature.pk
    assert standing(shop, checklist) == ReadStanding.READ


def test_a_signature_is_not_taken_back_without_reason_twice_or_by_anybody(
    shop: Shop, checklist: Checklist, mechanic: User, owner: User
) -> None:
    signature = signed(checklist, mechanic)
    for reason in ("", "  ", "x" * 401):
        with pytest.raises(ValidationError):
            take_signature_back(signature=signature, reason=reason, by=mechanic)
    strangers = UserFactory(shop=shop, mechanic=True), UserFactory(owner=True), UserFactory(shop=shop)
    for stranger in strangers:
        with pytest.raises(PermissionDenied):
            take_signature_back(signature=signature, reason="Not mine.", by=stranger)
    take_signature_back(signature=signature, reason="Wrong.", by=mechanic)
    with pytest.raises(StaleVersion):
        take_signature_back(signature=signature, reason="Again.", by=owner)


def test_the_database_holds_both_rules(shop: Shop, checklist: Checklist, mechanic: User) -> None:
    signature = signed(checklist, mechanic)
    row = {"shop": shop, "checklist": checklist, "wording": 1, "by": mechanic, "signed_at": timezone.now()}
    with pytest.raises(IntegrityError), transaction.atomic():
        ChecklistSignature.objects.create(**row)
    for bad in ({"taken_back_at": timezone.now()}, {"taken_back_why": "No."}, {"taken_back_by": mechanic}):
        with pytest.raises(IntegrityError), transaction.atomic():
            ChecklistSignature.objects.filter(pk=signature.pk).update(**bad)


def test_many_lists_are_asked_for_in_one_query(
    shop: Shop, mechanic: User, django_assert_num_queries: Callable[[int], object]
) -> None:
    lists = [shipped_checklist(key) for key in ("sits-low", "loses-air", "tops-out")]
    signed(lists[1], mechanic)
    with django_assert_num_queries(1):  # type: ignore[attr-defined]
        found = read_throughs(shop, lists)
        said = [found[one.pk].standing for one in lists]
    assert said == [ReadStanding.UNREAD, ReadStanding.READ, ReadStanding.UNREAD]
    assert read_throughs(shop, []) == {}
