"""Can it be made: cutting, bending, coating, hardware, handling; and will it fit afterwards.

Works on `sheet.Part`, the metal of the catalogue and a `Shop`: what the people who cut, bend and coat can do.
Everything a finding needs is measured on the geometry.
"""
