"""steadfold: folded sheet metal and strut stands, rated before they are ordered.

Data flows one way: job file, parts, flat and folded shape, mesh, results, verdicts, order folder.
"""

import os

# Small dense blocks ran up to 17 times slower with two BLAS threads than with one; parallel work is by process.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

__version__ = "0.1.0"
