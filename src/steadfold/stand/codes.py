"""The codes of findings on stands, with what each means in a sentence."""

STAND_CODES: dict[str, str] = {
    "bench-on-wheels": "The bench stands on wheels that are not locked.",
    "bench-slides": "A push slides the bench over the floor.",
    "bench-unknown": "Nothing is known of the bench, so whether it tips is not known either.",
    "carries-frame": "A folded part is rated together with the frame that it carries.",
    "cracks-in-time": "What shakes all day may crack at welds, bends and holes; fatigue is not computed.",
    "drilled-bar": "A bar drilled through for a rod is worked hard at its hole.",
    "heavy-end-out": "The machine stands with its heavy end out; turned round it tips less.",
    "hums": "A running speed meets a frequency at which the stand swings.",
    "joint-slips": "A joint holds by friction and may slip.",
    "not-level": "On the way to level something is worked beyond what it may carry.",
    "post-head-bends": "Rods pull at the head of a post, which bends under the whole overhang.",
    "rods-fight-brace": "Rods are turned while a brace is still tight, so that they pull against it.",
    "too-few-pieces": "A stand takes more pieces of a part than the job orders.",
    "topples": "The bench tips over, or has little left against it.",
    "weight-unsure": "The machine's mass is only known within a wide range.",
}
