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
from steadfold.job.problem import JobProblems, Problem, render
from steadfold.job.reader import read_job, read_job_text
from steadfold.job.ready import tree_at

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
    "read_job",
    "read_job_text",
    "render",
    "tree_at",
]
