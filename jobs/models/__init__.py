"""The visit and everything that hangs on it."""

from jobs.models.consent import RepairConsent
from jobs.models.evidence import Judgement, VisitCapture, shown_by
from jobs.models.intake import Complaint, Customer, Vehicle, Visit
from jobs.models.limits import FigureLimit
from jobs.models.numbering import NumberingCheck
from jobs.models.question import Question
from jobs.models.question_mail import QuestionMail
from jobs.models.swap import SwapTest
from jobs.models.timeline import LONGEST_LINE, TOLD, Note, Photo, TimelineEvent
from jobs.models.triage import CodePaste, FreezeFrame, MisfireCounts, Triage, TroubleCode
from jobs.models.used import UsedLine
from jobs.models.work import CylinderFinding, Outcome, WorkOrder

__all__ = [
    "LONGEST_LINE",
    "TOLD",
    "CodePaste",
    "Complaint",
    "Customer",
    "CylinderFinding",
    "FigureLimit",
    "FreezeFrame",
    "Judgement",
    "MisfireCounts",
    "Note",
    "NumberingCheck",
    "Outcome",
    "Photo",
    "Question",
    "QuestionMail",
    "RepairConsent",
    "SwapTest",
    "TimelineEvent",
    "Triage",
    "TroubleCode",
    "UsedLine",
    "Vehicle",
    "Visit",
    "VisitCapture",
    "WorkOrder",
    "shown_by",
]
