"""The job file: read into records with every problem at once, and written back with its comments."""

from steadfold.job.models import (
    CadFile,
    Capacity,
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
from steadfold.job.reader import read_job, read_job_text, text_of
from steadfold.job.ready import tree_at
from steadfold.job.writer import CannotChange, changed, write_job

__all__ = [
    "CadFile",
    "CannotChange",
    "Capacity",
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
    "changed",
    "read_job",
    "read_job_text",
    "render",
    "text_of",
    "tree_at",
    "write_job",
]
