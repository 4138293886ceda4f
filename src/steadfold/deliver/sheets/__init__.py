"""The printed sheets of the order folder: each module gathers what one sheet says, a template sets it."""
