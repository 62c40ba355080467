"""What pages need: who may open them, and which units changed since an answer was kept ready."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only
from fleet.storage.columns import Instant

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; none is of the record."""
    _make_doors()
    _make_benches()
    _make(
        "kept_tick",
        sa.Column("unit_id", sa.Integer, nullable=False),
        sa.Column("tick", sa.BigInteger, nullable=False),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_kept_tick_unit_id_unit")),
    )
    _index("kept_tick", "tick")
    append_only.install(op.get_bind())


def _make_doors() -> None:
    """Accounts, signed-in browsers, what was tried, and the log."""
    _make(
        "account",
        *(_text(word) for word in ("email", "password_hash")),
        _instant("password_at"),
        _text("totp_key"),
        sa.Column("totp_step", sa.BigInteger, nullable=False),
        _instant("made_at"),
        _instant("disabled_at", empty=True),
    )
    _make(
        "web_session",
        *(_text(word) for word in ("token_hash", "email", "device", "initials")),
        sa.Column("is_whole", sa.Boolean, nullable=False),
        *(_instant(word) for word in ("made_at", "seen_at", "ends_at")),
        _text("label"),
    )
    _index("web_session", "email")
    _index("web_session", "ends_at")
    _make("attempt", _text("number"), _text("bucket"), _instant("at"))
    _index("attempt", "bucket", "at")
    _make(
        "access_event",
        _text("number"),
        _instant("at"),
        sa.Column("act", sa.String(48), nullable=False),
        *(_text(word) for word in ("who", "address", "about")),
    )
    _index("access_event", "at")


def _make_benches() -> None:
    """Browsers at benches, and who marks there."""
    _make(
        "bench_device",
        *(_text(word) for word in ("number", "site", "name", "token_hash", "enrolled_by")),
        _instant("enrolled_at"),
        _instant("ended_at", empty=True),
        _at_a_site("bench_device"),
        sa.UniqueConstraint("token_hash", name=op.f("uq_bench_device_token_hash")),
    )
    _make(
        "bench_person",
        *(_text(word) for word in ("site", "initials", "name", "pin_hash", "made_by")),
        _instant("made_at"),
        _instant("ended_at", empty=True),
        _at_a_site("bench_person"),
        keys=2,
    )


def _make(table: str, *parts: sa.schema.SchemaItem, keys: int = 1) -> None:
    """Make a table whose first columns are its key."""
    names = [part.name for part in parts[:keys] if isinstance(part, sa.Column)]
    op.create_table(table, *parts, sa.PrimaryKeyConstraint(*names, name=op.f(f"pk_{table}")))


def _index(table: str, *columns: str) -> None:
    op.create_index(op.f(f"ix_{table}_{'_'.join(columns)}"), table, list(columns))


def _at_a_site(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(["site"], ["site.site"], name=op.f(f"fk_{table}_site_site"))


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _instant(name: str, *, empty: bool = False) -> sa.Column[object]:
    return sa.Column(name, Instant, nullable=empty)
