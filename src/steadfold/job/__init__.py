"""The job file: read into records with every problem at once, and written back with its comments."""

from steadfold.job.models import (
    CadFile,
    Capacity,
    Carries,
    Cases,
    Certificate,
    DxfBend,
    Job,
    JobPart,
    LaterTable,
    Mount,
    PlacedCutout,
    ShopChoice,
)
from steadfold.job.problem import JobProblems, Problem

__all__ = [
    "CadFile",
    "Capacity",
    "Carries",
    "Cases",
    "Certificate",
    "DxfBend",
    "Job",
    "JobPart",
    "JobProblems",
    "LaterTable",
    "Mount",
    "PlacedCutout",
    "Problem",
    "ShopChoice",
]
