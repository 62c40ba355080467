"""A program that asks the lab's pages with a token."""

from __future__ import annotations

from dataclasses import dataclass

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from fleet.domain.records import Role
from fleet.services.access.api_tokens import make_token
from tests.fleet.web.lab import HOST, PEOPLE, Lab

__all__ = ["Asker", "as_program", "token_of"]


@dataclass
class Asker:
    """One program: a client without cookies, and what it holds."""

    client: FlaskClient
    token: str

    def get(self, path: str, **headers: str) -> TestResponse:
        return self.client.get(path, base_url=HOST, headers={**self._bearer(), **headers})

    def rows(self, path: str) -> list[dict[str, object]]:
        """The items of a list that must be there."""
        answer = self.get(path)
        assert answer.status_code == 200, (path, answer.status_code, answer.text[:500])
        found: list[dict[str, object]] = answer.get_json()["items"]
        return found

    def post(self, path: str, told: object) -> TestResponse:
        """Send JSON."""
        return self.client.post(path, base_url=HOST, json=told, headers=self._bearer())

    def send(self, path: str, body: bytes, kind: str = "application/json") -> TestResponse:
        """Send bytes, whatever they are."""
        return self.client.post(
            path, base_url=HOST, data=body, content_type=kind, headers=self._bearer()
        )

    def _bearer(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token}"} if self.token else {}


def token_of(lab: Lab, email: str, *, may_write: bool = True, days: int = 30) -> str:
    """What a program holds that may ask in the name of an account, which is made if need be."""
    lab.signed_in(email)
    with lab.program.store.begin(write=True) as record:
        name = f"program {len(record.access.api_tokens(email)) + 1}"
        _, secret = make_token(record, lab.caller(), email, name, days, may_write=may_write)
        record.commit()
    return secret


def as_program(lab: Lab, role: Role, *, may_write: bool = True) -> Asker:
    """A program of whoever has a role."""
    return Asker(lab.app.test_client(), token_of(lab, PEOPLE[role], may_write=may_write))
