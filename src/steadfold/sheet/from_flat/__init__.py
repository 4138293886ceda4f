"""A folded part from a drawing of its flat: loops closed, bend lines found, the metal cut into panels and strips."""
