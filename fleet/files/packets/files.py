"""How are a packet's two files put into a folder? Both whole, or neither."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from fleet.errors import BadInput, Fault
from fleet.files.packets.pdf import packet_pdf
from fleet.files.packets.zip import packet_zip
from fleet.files.staging import staged
from fleet.services.packet_facts import PacketFacts

__all__ = ["WrittenPacket", "packet_paths", "write_packet"]

_UNSAFE = re.compile(r"[^\w.-]+")


@dataclass(frozen=True, slots=True)
class WrittenPacket:
    """The two files, how many pages and files they hold, and the hash of each."""

    pdf: Path
    zip: Path
    pages: int
    files: int
    pdf_bytes: int
    zip_bytes: int
    pdf_sha256: str
    zip_sha256: str


def packet_paths(folder: Path, site: str, span: str, *, replace: bool) -> tuple[Path, Path]:
    """Where a packet's PDF and ZIP go; BadInput where a file stands there and may not go."""
    name = f"packet-{_UNSAFE.sub('_', site).strip('.')}-{span}"
    paths = folder / f"{name}.pdf", folder / f"{name}.zip"
    for path in paths:
        if path.is_dir() or (path.exists() and not replace):
            mend = "give another folder as --out, or say --replace"
            raise BadInput([Fault(str(path), None, None, "it is there already", mend)])
    return paths


def write_packet(facts: PacketFacts, paths: tuple[Path, Path]) -> WrittenPacket:
    """Make both files under other names first, and then give them their own."""
    pdf, pages = packet_pdf(facts, paths[0].name)
    zipped, files = packet_zip(facts, paths[0].name, pdf)
    with staged(paths[0].parent, ".packet-") as staging:
        staging.put(paths[0].name, pdf)
        staging.put(paths[1].name, zipped)
        staging.place(replace=True)
    hashes = [hashlib.sha256(content).hexdigest() for content in (pdf, zipped)]
    return WrittenPacket(*paths, pages, files, len(pdf), len(zipped), *hashes)
