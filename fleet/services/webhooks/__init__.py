"""Webhooks: who subscribes, what has happened that is told, and how it gets out."""
