"""The only room that knows the order of the steps: from a job to what is said about it."""

from steadfold.review.plain import plain
from steadfold.review.records import Assumption, PartReview, Review
from steadfold.review.review import review

__all__ = ["Assumption", "PartReview", "Review", "plain", "review"]
