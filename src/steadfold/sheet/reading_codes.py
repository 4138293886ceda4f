"""The codes of findings on drawn parts, with what each means in a sentence."""

READING_CODES: dict[str, str] = {
    "countersunk-hole": "A hole is countersunk.",
    "drawing-frame": "A frame or title block of the drawing was taken for no part.",
    "drawing-not-flat": "Something in the drawing does not lie in its plane.",
    "drawing-size": "The size the file claims is unusual for sheet.",
    "drawn-twice": "A line is drawn more than once.",
    "drilled-through-bend": "A hole was drilled through the finished bend, so it is not round in the flat.",
    "edge-not-square": "An edge is not square to the sheet.",
    "formed-feature": "A formed feature was left out; nothing is said about it.",
    "gaps-closed": "Ends of lines that did not meet were joined.",
    "layers-guessed": "What a layer holds was guessed.",
    "left-out-of-drawing": "Something in the drawing is no outline and was left out.",
    "open-outline": "Lines belong to no closed outline and are no bend lines.",
    "part-in-opening": "A part lies in the opening of another.",
    "placed-more-than-once": "The file places a part more than once.",
    "radius-zero": "A bend is drawn with an inside radius of exactly zero.",
    "size-unusual": "The size is unusual for a sheet part.",
    "stocky-for-sheet": "The part is thick for its size; it may be no sheet part.",
    "tapped-size": "A hole has the size of a tapping drill.",
    "volume-differs": "The metal found differs a little from the drawn solid.",
}
