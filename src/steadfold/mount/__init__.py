"""A folded part on its wall: its loads and fixings as one model, the cases it is rated for, and what gives first."""
