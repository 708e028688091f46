"""The result of an analysis: its types, its published form and its words."""

from traces.core.report.bank_results import BankBalance, BankCall, BankDifference, BankMean
from traces.core.report.bank_words import (
    ONE_OF_TWO,
    BankView,
    apart_words,
    bank_line,
    bank_view,
    weaker_bank,
)
from traces.core.report.publishing import BANKS_PUBLISHED, FIGURES_PUBLISHED, published
from traces.core.report.reading_aid import Aid, finding_aid, reading_aids
from traces.core.report.results import (
    CALL_WORDS,
    LOW_CALLS,
    SCHEMA,
    Call,
    Estimate,
    Hump,
    Report,
    Verdict,
)
from traces.core.report.starter_figures import FIGURES, Lies, StarterFigures, StarterNote
from traces.core.report.wording import LIMITS, is_uncertain, setup_words, verdict_words

__all__ = [
    "BANKS_PUBLISHED",
    "CALL_WORDS",
    "FIGURES",
    "FIGURES_PUBLISHED",
    "LIMITS",
    "LOW_CALLS",
    "ONE_OF_TWO",
    "SCHEMA",
    "Aid",
    "BankBalance",
    "BankCall",
    "BankDifference",
    "BankMean",
    "BankView",
    "Call",
    "Estimate",
    "Hump",
    "Lies",
    "Report",
    "StarterFigures",
    "StarterNote",
    "Verdict",
    "apart_words",
    "bank_line",
    "bank_view",
    "finding_aid",
    "is_uncertain",
    "published",
    "reading_aids",
    "setup_words",
    "verdict_words",
    "weaker_bank",
]
