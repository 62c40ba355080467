"""Which certificate came with a form?"""

from __future__ import annotations

from typing import Final

from flask import request

from fleet.errors import BadInput, Fault
from fleet.files.attached import attached
from fleet.services.ports import AttachedFile

__all__ = ["sent_certificate"]

_MOST_BYTES: Final = 8 * 2**20


def sent_certificate(form: str, field: str) -> AttachedFile | None:
    """The file of a form's field, judged by its bytes; None where none was chosen.

    Raises BadInput, at that field, where it has more than 8 MB or is of no kind that is kept.
    """
    given = request.files.get(field)
    if given is None or not given.filename:
        return None
    content = given.stream.read(_MOST_BYTES + 1)
    if len(content) > _MOST_BYTES:
        mend = "send only its pages, or scan it in grey"
        raise BadInput([Fault(form, None, field, "the file has more than 8 MB", mend)])
    try:
        return attached(given.filename, content)
    except BadInput as error:
        (fault,) = error.faults
        raise BadInput([Fault(form, None, field, fault.problem, fault.mend)]) from None
