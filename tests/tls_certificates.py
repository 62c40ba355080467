"""Self-signed certificates with their keys, made by the openssl command."""

from __future__ import annotations

import ssl
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

__all__ = ["Certificates", "make_certificates"]


@dataclass(frozen=True)
class Certificates:
    """Certificates by a word for each, with their keys."""

    folder: Path

    def context(self, name: str) -> ssl.SSLContext:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(self.folder / f"{name}.pem", self.folder / f"{name}.key")
        return context

    def file(self, name: str) -> Path:
        return self.folder / f"{name}.pem"


def make_certificates(folder: Path, hosts: Mapping[str, str]) -> Certificates:
    """One certificate a word, for its host."""
    for name, host in hosts.items():
        subject = ["-subj", f"/CN={host}", "-addext", f"subjectAltName=DNS:{host}"]
        files = ["-keyout", str(folder / f"{name}.key"), "-out", str(folder / f"{name}.pem")]
        kind = ["-x509", "-newkey", "rsa:2048", "-nodes", "-days", "3"]
        command = ["openssl", "req", *kind, *subject, *files]
        subprocess.run(command, check=True, capture_output=True)
    return Certificates(folder)
