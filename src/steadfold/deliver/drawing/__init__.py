"""Technical drawings: line types, dimensions, views side by side, flats with their tables, pictures at full size."""
