"""What does the bench mark today: one touch a mark, also without script and without a network?"""

from __future__ import annotations

import datetime as dt
from typing import Any, Final

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Mark, Site
from fleet.errors import BadInput, Fault
from fleet.services.bench.marking import Asked as AskedMark
from fleet.services.bench.marking import Saved, leave_unused, save_mark, take_back
from fleet.services.bench.sheet import BenchSheet, bench_sheet
from fleet.services.effect_words import first_line
from fleet.services.entry_effects import effects
from fleet.services.life.outages import CAUTIONS, broken
from fleet.services.ports import Record
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_day, one_instant, one_of
from fleet.web.pages.bench_doors import sign_on_page
from fleet.web.routes import ANYBODY, Pages
from fleet.web.who import AT_BENCH
from fleet.web.words import place as place_of

__all__ = ["PAGES"]

PAGES = Pages()

_CLOCK_OFF: Final = dt.timedelta(hours=6)
"""So far off the clock of a bench may be before its marks are refused: it may name a wrong day."""


@PAGES.get("/bench", who=ANYBODY)
def bench() -> ResponseReturnValue:
    """Lead on to the bench of this browser, or to what makes it one."""
    asking = asked()
    if asking.visitor.initials or (asking.visitor.email and asking.device is None):
        sites = sorted(asking.visitor.sites(*AT_BENCH))
        return redirect(url_for("bench.bench_of", site=sites[0])) if sites else abort(403)
    if asking.device is None:
        return redirect(url_for("bench_doors.enrol_page"))
    return redirect(url_for("bench.bench_of", site=asking.device.site))


@PAGES.get("/bench/<site>", who=AT_BENCH)
def bench_of(site: str) -> ResponseReturnValue:
    """Today's places to mark at a site."""
    asking = asked()
    with asking.read() as record:
        place = asking.site(record.register(), site, *AT_BENCH)
        if asking.visitor.device and not asking.visitor.initials:
            device = asking.device or abort(401)
            return sign_on_page(asking, device)
        sheet = _sheet(asking, record, place)
        told = _told(record, sheet, request.args.get("saved", ""))
    return asking.page("bench.html", sheet=sheet, site=place, told=told)


def _sheet(asking: Asked, record: Record, site: Site) -> BenchSheet:
    rows = asking.web.board.view(record, asking.now).of_site(site.site)
    salt = asking.session.token_hash if asking.session is not None else asking.visitor.by
    return bench_sheet(record, asking.public_holidays, site, rows, asking.now, salt)


def _told(record: Record, sheet: BenchSheet, key: str) -> dict[str, Any] | None:
    """What is to be said of the mark that was just saved: what is wrong, and what to do first."""
    stored = record.stored([key]).get(key) if key else None
    touches = {(touch.property_number, touch.task) for touch in sheet.touches}
    if stored is None or (stored.entry.property_number, stored.entry.task) not in touches:
        return None
    followed = effects(record, stored.entry, record.register())
    line = first_line(followed)
    return {"line": line, "cautions": followed.cautions} if line else None


@PAGES.post("/bench/<site>/mark", who=AT_BENCH, takes_json=True)
def mark(site: str) -> ResponseReturnValue:
    """Write one mark; the same one sent twice is one entry."""
    asking = asked()
    given = _given(asking)
    with asking.write() as record:
        place = asking.site(record.register(), site, *AT_BENCH)
        saved = save_mark(
            record,
            asking.public_holidays,
            site,
            given,
            asking.stamp(),
            anyway=asking.is_meant,
        )
        record.commit()
    if not request.is_json:
        here = url_for("bench.bench_of", site=site, saved=saved.stored.entry.key)
        return redirect(f"{here}#{place_of(given.property_number)}")
    return _saved_json(asking, place, saved)


def _given(asking: Asked) -> AskedMark:
    """The mark of a form, or of the script's queue; only these fields are looked at."""
    form: Any = request.get_json() if request.is_json else request.form
    if not hasattr(form, "get"):
        raise BadInput([Fault("mark", None, None, "this is no mark", "send an object")])
    if request.is_json and form.get("person", "") != asking.visitor.by:
        abort(403)
    _refuse_wrong_clock(asking, one_instant("sent_at", str(form.get("sent_at") or "")))
    words = {name: str(form.get(name) or "") for name in ("property_number", "task", "reading")}
    return AskedMark(
        **words,
        on=one_day("on", str(form.get("on") or "")),
        mark=one_of(Mark, "mark", str(form.get("mark") or "")),
        initials=_initials(asking),
        key=str(form.get("key") or ""),
        noted_at=one_instant("noted_at", str(form.get("noted_at") or "")),
    )


def _refuse_wrong_clock(asking: Asked, sent_at: dt.datetime | None) -> None:
    """A script tells when it sends: by this device's clock, which names the day of its marks."""
    if sent_at is not None and abs(asking.now - sent_at) > _CLOCK_OFF:
        problem = "this device's clock is off by hours or days, so the day of the mark is not sure"
        mend = "set the clock, load the page again, and mark once more"
        raise BadInput([Fault("mark", None, "sent_at", problem, mend)])


def _initials(asking: Asked) -> str:
    """Who marks: the bench's initials, or those of a signed-in person's name."""
    visitor = asking.visitor
    if visitor.device:
        return visitor.initials or abort(401)
    return "".join(word[0] for word in visitor.name.split()[:3]).upper()


def _saved_json(asking: Asked, site: Site, saved: Saved) -> ResponseReturnValue:
    """What the script shows in place of the button: the unit's row as it stands now."""
    number = saved.stored.entry.property_number
    with asking.read() as record:
        sheet = _sheet(asking, record, site)
        told = _told(record, sheet, saved.stored.entry.key)
    unit = next(
        (u for kind in sheet.kinds for u in kind.units if u.unit.property_number == number), None
    )
    row = "" if unit is None else asking.page("bench_unit.html", unit=unit, site=site)
    answer = {
        "state": "saved" if saved.is_new else "duplicate",
        "key": saved.stored.entry.key,
        "said": told["line"] if told else "",
        "cautions": list(told["cautions"]) if told else [],
        "unit": row,
        "open": sheet.open_count,
    }
    return answer, 201 if saved.is_new else 200


@PAGES.post("/bench/<site>/unused", who=AT_BENCH)
def unused(site: str) -> ResponseReturnValue:
    """Say of one unit, or of the whole room, that it is not in use today."""
    asking = asked()
    number = asking.field("property_number")
    with asking.write() as record:
        place = asking.site(record.register(), site, *AT_BENCH)
        sheet = _sheet(asking, record, place)
        wanted = None if asking.field("room") == "yes" else [number]
        initials = _initials(asking)
        leave_unused(record, asking.public_holidays, sheet, wanted, initials, asking.stamp())
        record.commit()
    return redirect(url_for("bench.bench_of", site=site) + f"#{place_of(number)}" * bool(number))


@PAGES.post("/bench/<site>/back", who=AT_BENCH)
def back(site: str) -> ResponseReturnValue:
    """Take a mark back."""
    asking = asked()
    with asking.write() as record:
        asking.site(record.register(), site, *AT_BENCH)
        struck = take_back(
            record,
            asking.public_holidays,
            site,
            asking.field("key"),
            _initials(asking),
            asking.stamp(),
        )
        record.commit()
    here = url_for("bench.bench_of", site=site)
    return redirect(f"{here}#{place_of(struck.entry.property_number)}")


@PAGES.get("/bench/<site>/units/<number>/broken", who=AT_BENCH)
def broken_page(site: str, number: str) -> ResponseReturnValue:
    """Ask what is wrong with a unit, and say what comes first."""
    asking = asked()
    with asking.read() as record:
        register = record.register()
        place = asking.site(register, site, *AT_BENCH)
        unit = asking.unit(register, number, *AT_BENCH)
    return asking.page("broken.html", site=place, unit=unit, cautions=CAUTIONS, why="")


@PAGES.post("/bench/<site>/units/<number>/broken", who=AT_BENCH)
def say_broken(site: str, number: str) -> ResponseReturnValue:
    """Put the unit out of service."""
    asking = asked()
    why = asking.field("why_else") or asking.field("why")
    with asking.write() as record:
        register = record.register()
        place = asking.site(register, site, *AT_BENCH)
        unit = asking.unit(register, number, *AT_BENCH)
        told = f"{why} (said by {_initials(asking)})" if why else ""
        try:
            broken(
                record,
                asking.public_holidays,
                unit.property_number,
                None,
                told,
                anyway=asking.is_meant,
                stamp=asking.stamp(),
            )
        except BadInput as error:
            facts = {"site": place, "unit": unit, "cautions": CAUTIONS, "why": why}
            return asking.form_again("broken.html", error.faults, **facts)
        record.commit()
    return redirect(url_for("bench.bench_of", site=site) + f"#{place_of(unit.property_number)}")
