"""The shop of the played month: three forks with their kits, what it does to them, whom it buys from, and who works."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from diagnosis.models import Checklist
from specs.models import Part, SuspensionModel
from tests.factories import (
    CauseFactory,
    ChecklistFactory,
    ComplaintFactory,
    KitLineFactory,
    PartFactory,
    ServiceKitFactory,
    ShopFactory,
    StepFactory,
    SuspensionModelFactory,
    UserFactory,
)
from workshop.charges.prices import set_tax_rules
from workshop.models import Shop, StockItem, User
from workshop.promise.capacity import set_capacity
from workshop.promise.people import set_week
from workshop.stock.keeping import keep_part
from workshop.stock.moving import receive
from workshop.stock.supplier_models import Supplier, SupplierPart
from workshop.stock.suppliers import SupplierData, save_supplier

NEAR, FAR, THIRD = "Kettle Lane Seals", "Long Quay Supply", "Marsh Gate Foams"
LABOUR_PERCENT, PARTS_PERCENT = Decimal(20), Decimal(10)
LEAD_DAYS = {NEAR: 3, FAR: 8, THIRD: 5}


@dataclass
class MonthShop:
    """Records that the play starts from."""

    shop: Shop
    owner: User
    counter: User
    mechanics: Sequence[User]
    models: Sequence[SuspensionModel]
    service: Checklist
    searches: Sequence[Checklist]
    items: dict[int, StockItem] = field(default_factory=dict)  # by part
    kits: dict[int, dict[int, Decimal]] = field(default_factory=dict)  # of the lowers, by model and part


def make_shop() -> MonthShop:
    """Two mechanics of six hours a day, three forks, two suppliers; the shelves hold enough for some days."""
    shop = ShopFactory()
    owner, counter = UserFactory(shop=shop, owner=True), UserFactory(shop=shop)
    mechanics = [UserFactory(shop=shop, mechanic=True) for _ in range(2)]
    set_capacity(
        shop=shop, seen_version=0, mechanics=2, hours_a_day=Decimal(6), closed_weekdays=[5, 6], usual_minutes=60,
        unknown_lead_days=7,
    )  # fmt: skip
    for one in mechanics:
        set_week(mechanic=one, seen_version=0, hours=[Decimal(7)] * 5 + [Decimal(0)] * 2)
    set_tax_rules(
        shop=shop, seen_version=0, name="Tax", labour_percent=LABOUR_PERCENT, parts_percent=PARTS_PERCENT,
        prices_include_tax=False, rounding="sum", prices={("fork", "lowers"): Decimal("75.00")},
    )  # fmt: skip
    made = MonthShop(shop, owner, counter, mechanics, [], _service(), [_wipers_search(), _seals_search()])
    for name, days in LEAD_DAYS.items():
        save_supplier(shop=shop, supplier=None, data=SupplierData(name=name, usual_days=days))
    oil = _part(made, "oil", FAR, "0.0312", "0.0107", measure="ml", bottle_ml=Decimal(1000))
    made.models = [SuspensionModelFactory() for _ in range(3)]
    for model in made.models:
        _kits(made, model, oil)
    for item in made.items.values():
        in_stock = Decimal(3000) if item.part.measure == Part.Measure.ML else Decimal(10)
        receive(item=item, quantity=in_stock, by=owner, note="Opening")
    return made


def _kits(made: MonthShop, model: SuspensionModel, oil: Part) -> None:
    wiper = _part(made, "wiper", NEAR, "18.50", "7.3333", pack=Decimal(2))
    foam = _part(made, "foam_ring", THIRD, "6.00", "1.95")
    spring_seal = _part(made, "spring_seal", FAR, "32.00", "14.2", pack=Decimal(5))
    lowers, spring = ServiceKitFactory(model=model, level="lowers"), ServiceKitFactory(model=model, level="spring")
    made.kits[model.pk] = {wiper.pk: Decimal(2), foam.pk: Decimal(2), oil.pk: Decimal(75)}
    for part_pk, quantity in made.kits[model.pk].items():
        KitLineFactory(kit=lowers, part_id=part_pk, part=Part.objects.get(pk=part_pk), quantity=quantity)
    KitLineFactory(kit=spring, part=spring_seal, quantity=1)


def _part(
    made: MonthShop, role: str, supplier: str, price: str, cost: str, *, pack: Decimal = Decimal(1), **fields: object
) -> Part:
    # Its own number: the order of numbers decides what happens first, and a sequence may be anywhere.
    part = PartFactory(role=role, number=f"MONTH-{len(made.items) + 1:02}", **fields)
    mark = Decimal(1000) if part.measure == Part.Measure.ML else Decimal(4)
    item = keep_part(
        shop=made.shop, part=part, price=Decimal(price), cost=Decimal(cost), supplier=supplier, reorder_level=mark,
        shelf=f"{supplier[0]}{len(made.items) + 1}", lead_days=LEAD_DAYS[supplier], by=made.owner,
    )  # fmt: skip
    made.items[part.pk] = item
    if pack != 1:
        record = Supplier.objects.get(shop=made.shop, name=supplier)
        each = item.cost or Decimal(1)
        SupplierPart.objects.create(
            item=item, supplier=record, pack=pack, price=(each * pack).quantize(Decimal("0.01"))
        )
    return part


def _service() -> Checklist:
    made = ChecklistFactory(complaint=ComplaintFactory(is_routine=True), priors={})
    for key, minutes in (("take-off", 20), ("renew", 35), ("put-on", 20)):
        _work(made, key, minutes, services=["lowers"])
    return made


def _wipers_search() -> Checklist:
    made = ChecklistFactory(priors={"torn-wipers": 6, "only-dirt": 2})
    _check(made, "look", "torn-wipers", 15, [{"role": "wiper", "quantity": 2}])
    _check(made, "rub", "only-dirt", 10, [])
    _work(made, "mend", 45)
    return made


def _seals_search() -> Checklist:
    made = ChecklistFactory(priors={"worn-seals": 2, "low-pressure": 3})
    _check(made, "leak", "worn-seals", 20, [{"role": "spring_seal"}])
    _check(made, "gauge", "low-pressure", 10, [])
    _work(made, "mend", 60)
    return made


def _check(made: Checklist, key: str, cause: str, minutes: int, parts: Sequence[Mapping[str, object]]) -> None:
    CauseFactory(key=cause)
    found = {"cause": cause, "next": None, "says": "That is it.", "parts": list(parts)}
    answers = {"found": found, "ruled_out": {"cause": None, "next": None, "says": "Not that."}}
    StepFactory(
        checklist=made, key=key, position=made.steps.count(), minutes=float(minutes), ends_search={cause: 0.9},
        answers=answers,
    )  # fmt: skip


def _work(made: Checklist, key: str, minutes: int, **fields: object) -> None:
    StepFactory(
        checklist=made, key=key, position=made.steps.count(), kind="work", minutes=float(minutes), ends_search={},
        answers={"done": {"says": "Done."}, "left_out": {"says": "Left out."}}, **fields,
    )  # fmt: skip
