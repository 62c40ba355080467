"""Why can needs not be placed, and what would help? Proofs before planning, trials after it."""

from schedules.visits.diagnosis.findings import Code, Finding
from schedules.visits.diagnosis.mends import Mend, mended, mended_problem
from schedules.visits.diagnosis.proved import diagnose
from schedules.visits.diagnosis.retry import explain_unplaced

__all__ = [
    "Code",
    "Finding",
    "Mend",
    "diagnose",
    "explain_unplaced",
    "mended",
    "mended_problem",
]
