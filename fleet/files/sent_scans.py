"""May scans that a browser sent be read? By their bytes, their sizes and their names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from fleet.domain.texts import shown
from fleet.errors import BadInput, Fault
from fleet.files.attached import attached
from fleet.services.ports import AttachedFile

__all__ = ["MOST_FILES", "MOST_SENT_BYTES", "sent_scans"]

MOST_FILES: Final = 30
MOST_SENT_BYTES: Final = 11 * 2**20
"""Of all files of one form together."""


def sent_scans(sent: Sequence[tuple[str, bytes]]) -> list[AttachedFile]:
    """The files as they may be kept: PDF, PNG, JPEG or TIFF, each under a name of its own.

    Raises BadInput with a fault a file that cannot be taken, and for none, too many or too large.
    """
    if not sent:
        raise BadInput([Fault("files", None, "files", "no file is chosen", "choose some")])
    if len(sent) > MOST_FILES or sum(len(content) for _, content in sent) > MOST_SENT_BYTES:
        most = f"{MOST_FILES} files, or more than {MOST_SENT_BYTES // 2**20} MB"
        mend = "send them in several parts, or scan in grey at 200 dots an inch"
        raise BadInput([Fault("files", None, "files", f"they are more than {most}", mend)])
    faults: list[Fault] = []
    files = list(_judged(sent, faults))
    if faults:
        raise BadInput(faults)
    return files


def _judged(sent: Sequence[tuple[str, bytes]], faults: list[Fault]) -> Iterator[AttachedFile]:
    seen = set[str]()
    for name, content in sent:
        try:
            file = attached(name, content)
        except BadInput as error:
            (fault,) = error.faults
            mend = fault.mend.replace("attach the certificate", "send the scan")
            mend = mend.replace("the certificate", "the chart")
            faults.append(Fault(fault.file, None, "files", fault.problem, mend))
            continue
        if file.attachment.name.casefold() in seen:
            called = shown(file.attachment.name)[1:-1]
            faults.append(Fault(called, None, "files", "two files are called so", "rename one"))
        seen.add(file.attachment.name.casefold())
        yield file
