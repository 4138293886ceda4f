"""A machine on a frame: strut brackets, legs and tie rods; will they hold, how far do they sag, will the bench tip.

Records in: Stand with its Member, Joint, Held, TieRod, Machine, Bench. Ready-made frames make the nodes and members.
"""
