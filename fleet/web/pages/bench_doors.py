"""How does a browser become a site's bench, and who stands at it now?"""

from __future__ import annotations

from typing import Final

from flask import abort, redirect, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.access import Device
from fleet.errors import BadInput, Fault, LinkRefused
from fleet.services.access.benches import enrol as enrol_bench
from fleet.services.access.benches import sign_on as try_pin
from fleet.services.access.throttle import is_slowed, note_failure
from fleet.web.asked import Asked, asked
from fleet.web.routes import ANYBODY, Pages

__all__ = ["PAGES", "sign_on_page"]

PAGES = Pages()

_CODES: Final = "bench codes"
_NO_CODE: Final = Fault(
    "bench",
    None,
    "code",
    "this code does not fit, was used already, or is older than a quarter of an hour",
    "ask the site's lead for a new one",
)
_NO_PIN: Final = Fault(
    "bench",
    None,
    "pin",
    "this PIN does not fit, or there were too many tries",
    "try again, or ask the site's lead for a new one",
)


@PAGES.get("/bench/enrol", who=ANYBODY)
def enrol_page() -> ResponseReturnValue:
    """The form for the code that a site's lead made."""
    return asked().page("enrol.html")


@PAGES.post("/bench/enrol", who=ANYBODY)
def enrol() -> ResponseReturnValue:
    """Make this browser the bench of the code's site."""
    asking = asked()
    with asking.read() as record:
        slowed = is_slowed(record.access, asking.caller, _CODES)
    try:
        if slowed:
            raise LinkRefused("ended")
        with asking.write() as record:
            typed, name = asking.field("code"), asking.field("name")
            _, token = enrol_bench(record, asking.caller, typed, name)
            record.commit()
    except BadInput as error:
        return asking.form_again("enrol.html", error.faults)
    except LinkRefused:
        with asking.write() as record:
            note_failure(record.access, asking.caller, _CODES)
            record.commit()
        return asking.form_again("enrol.html", [_NO_CODE])
    asking.new_device_cookie = token
    return redirect(url_for("bench.bench"))


def sign_on_page(asking: Asked, device: Device) -> str:
    """The form that asks who stands at the bench."""
    return asking.page("sign_on.html", **_people(asking, device))


def _people(asking: Asked, device: Device) -> dict[str, object]:
    with asking.read() as record:
        return {
            "site": record.register().sites[(device.site,)],
            "people": record.access.bench_people(device.site),
        }


@PAGES.post("/bench/sign-on", who=ANYBODY)
def sign_on() -> ResponseReturnValue:
    """Try initials and PIN."""
    asking = asked()
    device = asking.device or abort(401)
    initials, pin = asking.field("initials"), asking.field("pin")
    token = try_pin(asking.store, asking.caller, device, initials, pin, asking.session)
    if token is None:
        return asking.form_again("sign_on.html", [_NO_PIN], **_people(asking, device))
    asking.new_cookie = token
    return redirect(url_for("bench.bench_of", site=device.site))
