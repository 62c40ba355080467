"""How are a packet's files put into one ZIP, the same bytes for the same facts?"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Iterator

from fleet.domain.chain import SEALS
from fleet.files.packets.check import check_text
from fleet.files.packets.tables import attachment_path, csv_files
from fleet.services.packet_facts import PacketFacts

__all__ = ["packet_zip"]

_LONG_AGO = (1980, 1, 1, 0, 0, 0)
"""The time of every file: the earliest a ZIP can hold, so that it says nothing."""


def packet_zip(facts: PacketFacts, pdf_name: str, pdf: bytes) -> tuple[bytes, int]:
    """The ZIP and how many files it holds; its manifest names the PDF beside it too."""
    made, manifest, count = io.BytesIO(), [_hashed(pdf_name, pdf)], 0
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for name, content in sorted(_files(facts, pdf_name)):
            _add(archive, name, content)
            manifest.append(_hashed(name, content))
            count += 1
        _add(archive, "MANIFEST.sha256", "".join(manifest).encode())
    return made.getvalue(), count + 1


def _add(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    info = zipfile.ZipInfo(name, _LONG_AGO)
    info.compress_type, info.external_attr, info.create_system = (
        zipfile.ZIP_DEFLATED,
        0o644 << 16,
        3,
    )
    archive.writestr(info, content)


def _hashed(name: str, content: bytes) -> str:
    """A line as `sha256sum` writes and checks it."""
    return f"{hashlib.sha256(content).hexdigest()}  {name}\n"


def _files(facts: PacketFacts, pdf_name: str) -> Iterator[tuple[str, bytes]]:
    yield from csv_files(facts)
    yield "rules.toml", facts.book.encode()
    yield "CHECK.txt", check_text(pdf_name, facts.root).encode()
    lines = (f"{one.chain}\t{one.seq}\t{one.hash.hex()}\t{one.content}\n" for one in facts.lines)
    yield "lines.tsv", "".join(lines).encode()
    yield "heads.tsv", _heads(facts)
    for file in facts.files:
        if file.content is not None:
            yield attachment_path(file), file.content


def _heads(facts: PacketFacts) -> bytes:
    """The very lines that the root is made of (`fleet.domain.chain.root_of`)."""
    chains = sorted(facts.heads.keys() - {SEALS}, key=str.encode)
    heads = ((chain, facts.heads[chain]) for chain in chains)
    return "".join(f"{chain}\t{head.seq}\t{head.hash.hex()}\n" for chain, head in heads).encode()
