"""steadfold: folded sheet metal and strut stands, rated before they are ordered.

Data flows one way: job file, parts, flat and folded shape, mesh, results, verdicts, order folder.
"""

__version__ = "0.1.0"
