"""What is each reader told? One function a kind: facts in, a message or the reason for none out."""

from notifications.digests.gaps import gaps
from notifications.digests.lead import site_lead
from notifications.digests.new_charts import new_charts
from notifications.digests.new_password import new_password
from notifications.digests.news import news
from notifications.digests.program import manager
from notifications.digests.region import consultant
from notifications.digests.stop_list import stop_list
from notifications.digests.visit import visit

__all__ = [
    "consultant",
    "gaps",
    "manager",
    "new_charts",
    "new_password",
    "news",
    "site_lead",
    "stop_list",
    "visit",
]
