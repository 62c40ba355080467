"""Where is a fleet kept? In SQLite or PostgreSQL; the only package that knows SQLAlchemy."""

from fleet.storage.lifecycle import SchemaState, create, schema_state, upgrade
from fleet.storage.store import SqlStore, open_store

__all__ = ["SchemaState", "SqlStore", "create", "open_store", "schema_state", "upgrade"]
