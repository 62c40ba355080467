"""Is what was looked at written on the record that was looked at, and only on that?"""

from __future__ import annotations

import pytest

from fleet.domain.mail_times import MailSetting
from fleet.domain.register import Change
from fleet.services.ports import Record, Stamp
from fleet.services.steady import written_steadily
from fleet.storage import SqlStore
from tests.fleet.services.load_files import STAMP

BY_OTHERS = Stamp(at=STAMP.at, by="another", source="page")


def setting(record: Record, value: str, stamp: Stamp = STAMP) -> None:
    old = record.register().mail_settings.get(("send_at",))
    new = MailSetting(name="send_at", value=value)
    record.change([Change(old=old, new=new, initial=False)], stamp)


def setting_of(record: Record) -> str:
    found = record.register().mail_settings.get(("send_at",))
    return found.value if found else ""


@pytest.mark.parametrize("others", [0, 1, 3])
def test_what_is_written_was_seen_on_the_record_as_it_stands(store: SqlStore, others: int) -> None:
    seen = list[str]()

    def look(record: Record) -> str:
        seen.append(setting_of(record))
        if len(seen) <= others:
            with store.begin(write=True) as other:
                setting(other, f"06:0{len(seen)}", BY_OTHERS)
                other.commit()
        return seen[-1]

    def write(record: Record, found: str) -> str:
        assert setting_of(record) == found
        setting(record, "07:00")
        return "kept"

    assert written_steadily(store, look, write) == "kept"
    assert len(seen) == others + 1, "looked at again each time that somebody else had written"
    with store.begin() as record:
        assert setting_of(record) == "07:00"


def test_what_does_not_stand_any_more_is_not_written(store: SqlStore) -> None:
    def look(_: Record) -> None:
        raise LookupError("it is gone")

    with pytest.raises(LookupError):
        written_steadily(store, look, lambda record, _: setting(record, "07:00"))
    with store.begin() as record:
        assert setting_of(record) == ""
