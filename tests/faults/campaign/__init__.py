"""A campaign of faults: thousands of damaged files, kills at any moment, and machines that will not.

Run: `make faults`, or `python -m tests.faults.campaign --help`. Everything is drawn from one seed, so that a case can be
had again. What is not an answer, a sentence or a refusal is kept with its input.
"""
