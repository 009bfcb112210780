"""Each card and drive has a short code from its registration on, and keeps it whatever happens."""

from __future__ import annotations

from sqlalchemy import delete

from tests.services.harbour import GB, KIM, Harbour
from tracker.services import acts_back, acts_card, acts_drive, codes
from tracker.services.auditing import rebuild
from tracker.store.kept_tables import ShortCode


def every(harbour: Harbour) -> dict[str, str | None]:
    labels = [*harbour.labels(), "RAID", "SHUTTLE", "VAULT"]
    found = {label: codes.by_label(harbour.service, label) for label in labels}
    return {label: one and one.code for label, one in found.items()}


def test_each_has_one_of_its_own(harbour: Harbour) -> None:
    given = every(harbour)
    assert None not in given.values()
    assert len(set(given.values())) == len(given) == 6
    for label, code in given.items():
        assert codes.whose(harbour.service, str(code)).label == label


def test_a_new_one_gets_the_next(harbour: Harbour) -> None:
    acts_card.register_card(harbour.service, KIM, "S-099", "2.5in SSD", 1_000 * GB)
    acts_drive.register_drive(harbour.service, KIM, "NEW", "hdd", 8_000 * GB, "on set")
    assert codes.by_label(harbour.service, "S-099").code  # type: ignore[union-attr]
    assert codes.code_for_drive(harbour.service, "NEW")


def test_a_code_stays_through_a_rebuild_and_another_label(harbour: Harbour) -> None:
    before = every(harbour)
    acts_card.relabel(harbour.service, KIM, "S-014", "T-014")
    rebuild(harbour.service)
    assert every(harbour) == {("T-014" if k == "S-014" else k): v for k, v in before.items()}


def test_a_card_that_was_registered_by_mistake_leaves_its_code_to_nobody(harbour: Harbour) -> None:
    made = acts_card.register_card(harbour.service, KIM, "X-1", "2.5in SSD", 1_000 * GB).new[0]
    code = str(codes.code_for_card(harbour.service, made.id))
    acts_back.take_back(harbour.service, KIM, made.id, "no such card")
    acts_card.register_card(harbour.service, KIM, "X-2", "2.5in SSD", 1_000 * GB)
    try:
        found = codes.whose(harbour.service, code)
    except codes.NobodysCode:
        return
    raise AssertionError(found)


def test_those_without_get_theirs_when_the_service_is_opened(harbour: Harbour) -> None:
    with harbour.service.store.writing() as conn:
        conn.execute(delete(ShortCode))
    assert codes.allot_missing(harbour.service) == 6
    assert codes.allot_missing(harbour.service) == 0
    assert None not in every(harbour).values()
