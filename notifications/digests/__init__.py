"""What is each reader told? One function a kind: facts in, a message or the reason for none out."""

from notifications.digests.lead import site_lead
from notifications.digests.program import manager
from notifications.digests.region import consultant

__all__ = ["consultant", "manager", "site_lead"]
