"""A folded part from another program's solid: its skins found, its panels and bends told apart, its tree built."""
