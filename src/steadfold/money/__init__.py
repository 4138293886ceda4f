"""What it costs, what to charge, and the cheapest that is enough.

From a flat, a bend plan and a finish to operations, times and money; quotes correct the rates; parts are laid on
sheets; a price is found for a margin; a search finds the cheapest design.
"""
