"""What the trade sells and what the standards say of it: every number with the source it came from.

Tables live beside this file as TOML and are read once, when first asked for. Published values are frozen and
change only by edition; a shop's own figures and prices live with the user, never here.
"""

from steadfold.catalogue.gauges import Gauge, gauge, gauges_near, stock_thicknesses, thickness_of
from steadfold.catalogue.materials import Material, material, min_inside_radius_mm
from steadfold.catalogue.sources import Citation, Source
from steadfold.catalogue.tables import NotInCatalogue

__all__ = [
    "Citation",
    "Gauge",
    "Material",
    "NotInCatalogue",
    "Source",
    "gauge",
    "gauges_near",
    "material",
    "min_inside_radius_mm",
    "stock_thicknesses",
    "thickness_of",
]
