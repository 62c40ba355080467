"""Is a person's calendar at its address, and at no other?"""

from __future__ import annotations

from fleet.services.feeds import make_feed
from tests.fleet.web.lab import Lab


def test_a_calendar_is_read_at_its_address_until_it_is_revoked(lab: Lab) -> None:
    with lab.program.store.begin(write=True) as record:
        path = make_feed(record, "lead@alder.example", lab.program.draw_token(), lab.now[0])
        record.commit()
    answer = lab.browser().get(path)
    assert (answer.status_code, answer.mimetype) == (200, "text/calendar")
    assert answer.text.startswith("BEGIN:VCALENDAR")
    tag = {"If-None-Match": answer.headers["ETag"]}
    assert lab.browser().get(path, headers=tag).status_code == 304
    assert lab.browser().get("/calendar/made-up.ics").status_code == 404
    with lab.program.store.begin(write=True) as record:
        record.feeds.revoke("lead@alder.example", lab.now[0])
        record.commit()
    assert lab.browser().get(path).status_code == 404
