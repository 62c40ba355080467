"""How does a browser at a bench become the site's own, and who marks there?

The site's lead makes a code; whoever types it at the bench within a quarter of an hour enrols that
browser for that site alone. Who marks is initials with a PIN, which the lead gives out.
"""

from __future__ import annotations

import secrets
from dataclasses import replace
from typing import Final

from fleet.domain.access import Act, BenchPerson, Device, Session
from fleet.domain.texts import INITIALS_LENGTH, Wrong, check_text
from fleet.errors import BadInput, Fault
from fleet.services.access.caller import Caller
from fleet.services.access.hours import BENCH_CODE_FOR, DEVICE_FOR
from fleet.services.access.sessions import begin_session
from fleet.services.access.throttle import forgive, is_slowed, note_failure
from fleet.services.calendar_ports import LinkRow
from fleet.services.links import Purpose, look_at, spend, token_hash
from fleet.services.ports import Record, Store

__all__ = [
    "bench_code",
    "end_bench",
    "end_bench_person",
    "enrol",
    "enrolled",
    "give_pin",
    "sign_on",
]

_SIGNS: Final = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Letters and digits that nobody takes for another."""
_CODE_LENGTH: Final = 10
_PIN_DIGITS: Final = 4


def bench_code(record: Record, caller: Caller, site: str, by: str) -> str:
    """Make a code that enrols one browser at a site's bench, once; the caller commits.

    50 bits of chance, for a quarter of an hour, and few tries an address.
    """
    code = "".join(secrets.choice(_SIGNS) for _ in range(_CODE_LENGTH))
    row = LinkRow(
        token_hash=token_hash(code),
        email=by,
        purpose=Purpose.BENCH.value,
        scope=f'{{"site": "{site}"}}',
        made_at=caller.now,
        ends_at=caller.now + BENCH_CODE_FOR,
    )
    record.links.add(row)
    caller.log(record.access, Act.BENCH_CODE, by, site)
    return f"{code[:5]}-{code[5:]}"


def enrol(record: Record, caller: Caller, code: str, name: str) -> tuple[Device, str]:
    """Enrol a browser by a code; answers the device and its token. The caller commits.

    Raises LinkRefused for a code that is unknown, used or has ended, BadInput for a name that
    cannot be kept.
    """
    typed = "".join(sign for sign in code.upper() if sign.isalnum())
    link = look_at(record, typed, caller.now)
    wrong = check_text(name, 40) if name.strip() else Wrong("no name is given", "name the bench")
    if wrong is not None:
        raise _wrong("name", wrong)
    spend(record, typed, Purpose.BENCH, caller.now, caller.address)
    token = caller.draw()
    device = Device(
        number=secrets.token_hex(4).upper(),
        site=link.scope["site"],
        name=name.strip(),
        token_hash=token_hash(token),
        enrolled_by=link.email,
        enrolled_at=caller.now,
    )
    record.access.put_device(device)
    caller.log(record.access, Act.BENCH_ENROLLED, link.email, f"{device.site}: {device.name}")
    return device, token


def enrolled(record: Record, caller: Caller, token: str) -> Device | None:
    """The device of a token that still marks; None for one that was ended or has grown old."""
    device = record.access.device(token_hash(token)) if token else None
    if device is None or device.ended_at is not None:
        return None
    return None if caller.now >= device.enrolled_at + DEVICE_FOR else device


def end_bench(record: Record, caller: Caller, site: str, number: str, by: str) -> None:
    """Let a device of a site mark no more; the caller commits."""
    for device in record.access.devices_at(site):
        if device.number == number:
            record.access.put_device(replace(device, ended_at=caller.now))
            record.access.end_sessions(device=device.number)
            caller.log(record.access, Act.BENCH_ENDED, by, f"{site}: {device.name}")


def give_pin(
    record: Record, caller: Caller, site: str, initials: str, name: str, by: str
) -> tuple[BenchPerson, str]:
    """Let initials mark at a site, or give them a new PIN; answers it, once. The caller commits."""
    initials = initials.strip()
    wrong = (
        check_text(initials, INITIALS_LENGTH) if initials else Wrong("none are given", "say whose")
    )
    if wrong is not None:
        raise _wrong("initials", wrong)
    if (wrong := check_text(name.strip(), 80)) is not None:
        raise _wrong("name", wrong)
    pin = f"{secrets.randbelow(10**_PIN_DIGITS):0{_PIN_DIGITS}}"
    person = BenchPerson(
        site=site,
        initials=initials,
        name=name.strip(),
        pin_hash=caller.hasher.hashed(pin),
        made_by=by,
        made_at=caller.now,
    )
    record.access.put_bench_person(person)
    forgive(record.access, _bucket(site, initials))
    caller.log(record.access, Act.PIN_SET, by, f"{site}/{initials}")
    return person, pin


def end_bench_person(record: Record, caller: Caller, site: str, initials: str, by: str) -> None:
    """Let initials mark at a site no more; what they marked stays. The caller commits."""
    for person in record.access.bench_people(site):
        if person.initials == initials:
            record.access.put_bench_person(replace(person, ended_at=caller.now))
            caller.log(record.access, Act.BENCH_PERSON_ENDED, by, f"{site}/{initials}")


def sign_on(
    store: Store, caller: Caller, device: Device, initials: str, pin: str, before: Session | None
) -> str | None:
    """Try initials and PIN at a bench; answers the session's token, None where they do not fit."""
    bucket = _bucket(device.site, initials)
    with store.begin() as record:
        people = {person.initials: person for person in record.access.bench_people(device.site)}
        slowed = is_slowed(record.access, caller, bucket)
    person = people.get(initials)
    fits = caller.hasher.fits(person.pin_hash if person is not None else "", pin.strip())
    with store.begin(write=True) as record:
        access, who = record.access, f"{device.site}/{initials}"
        if person is None or slowed or not fits:
            if not slowed:
                note_failure(access, caller, bucket)
            caller.log(access, Act.SLOWED if slowed else Act.NOT_SIGNED_IN, who)
            record.commit()
            return None
        if before is not None:
            access.end_sessions(token_hash=before.token_hash)
        forgive(access, bucket)
        caller.log(access, Act.SIGNED_IN, who, device.name)
        token = begin_session(access, caller, device=device.number, initials=initials)
        record.commit()
    return token


def _bucket(site: str, initials: str) -> str:
    return f"bench {site}/{initials}"


def _wrong(field: str, wrong: Wrong) -> BadInput:
    return BadInput([Fault("bench", None, field, wrong.problem, wrong.mend)])
