"""What joints, fixings, welds, folded parts, rods and their posts mean, as findings."""

from __future__ import annotations

from steadfold.findings import Finding, Severity
from steadfold.stand.told import Told, some

POST_OVER_ARM = 3.0


def joints(told: Told) -> list[Finding]:
    """What is to be said of the joints: slip, bolts, welds, and what nothing proves."""
    found = []
    slips = [each for each in told.joints if each.slips]
    if slips:
        worst = max(slips, key=lambda each: abs(each.axial_n))
        found.append(
            Finding(
                "joint-slips",
                Severity.CAUTION,
                worst.name,
                f"{abs(worst.axial_n):.0f} N is more than friction is known to hold in "
                f"{some([each.name for each in slips])}.",
                abs(worst.axial_n),
                None,
                worst.source,
                "a stop or a bolt through a slot beyond the joint; pull to the loaded side, then tighten",
            )
        )
    loose = [b for b in told.budgets if b.likely_take_up_mm > max(0.25, b.still_mm)]
    if loose:
        worst_b = max(loose, key=lambda each: each.worst_take_up_mm)
        found.append(
            Finding(
                "joint-slips",
                Severity.CAUTION,
                worst_b.node,
                f"Bending lets it down {worst_b.still_mm:.2f} mm; clearances in the joints let it down up to "
                f"{worst_b.worst_take_up_mm:.1f} mm more once they shift.",
                worst_b.worst_take_up_mm,
                worst_b.still_mm,
                "hole less bolt, joint by joint",
                "press each joint to its loaded side before tightening, or use fitted bolts",
            )
        )
    for part in told.parts:
        for link in part.links:
            if link.share is None:
                found.append(
                    Finding(
                        "capacity-unproven",
                        Severity.UNPROVEN,
                        part.name,
                        f"{link.place[:1].upper()}{link.place[1:]}: {link.say}.",
                        source="none",
                        remedy="say how the part is held in its [part.mount], or give a capacity with its source",
                    )
                )
    unknown = [each for each in told.joints if each.share is None]
    if unknown:
        reasons = list(dict.fromkeys(each.why for each in unknown))
        found.append(
            Finding(
                "capacity-unproven",
                Severity.UNPROVEN,
                some([each.name for each in unknown]),
                f"Nobody vouches for {len(unknown)} of {len(told.joints)} joints and fixings: "
                f"{'; '.join(reasons[:3])}.",
                source="; ".join(dict.fromkeys(each.source for each in unknown if each.source != "none")) or "none",
                remedy="name bolts, nuts and wood in the job, or give a capacity with its source",
            )
        )
    welded = [
        member.name
        for member in told.stand.members
        if member.role == "crossbar"
        and any(j.kind == "welded" and j.bolt is None and j.throat_mm is None and not j.said for j in member.joints)
    ]
    if welded:
        found.append(
            Finding(
                "not-computed",
                Severity.NOTE,
                some(welded),
                "How its ends are joined is not given: they are taken as welded and as strong as itself.",
                source="simplification",
                remedy="a [stand.crossbar_joint]: a bolt, or kind = \"welded\" with its throat",
            )
        )
    return found


def rods(told: Told) -> list[Finding]:
    """What is to be said of tie rods: their pull, a crossbar drilled through, a fight with the braces."""
    found = []
    for each in told.rods:
        if each.bar_share is not None and each.bar_share > 0.85:
            found.append(
                Finding(
                    "drilled-bar",
                    Severity.CAUTION,
                    each.name,
                    f"Its crossbar, drilled through, sees {each.bar_mpa:.0f} MPa at the hole "
                    f"({each.bar_share:.0%} of what mild steel allows).",
                    each.bar_mpa,
                    None,
                    "bending of what the hole leaves; yield 235 / 1.67",
                    "hold the bar within 15 mm of the rod, or use a plate",
                )
            )
    arms = [m.share or 0.0 for m in told.members if m.role == "arm"]
    posts = [m for m in told.members if m.role == "post" and m.share is not None]
    if posts and told.rods and arms:
        worst = max(posts, key=lambda each: each.share or 0.0)
        if (worst.share or 0.0) > max(0.3, POST_OVER_ARM * max(arms)):
            found.append(
                Finding(
                    "post-head-bends",
                    Severity.CAUTION,
                    worst.name,
                    f"The rods move the pull to the top of the post: {worst.moment_nmm / 1000.0:.0f} N m, "
                    f"{worst.share:.0%} of what it may carry, beside {max(arms):.0%} in the arms.",
                    worst.share,
                    1.0,
                    worst.source,
                    "tie the post head back to the benchtop",
                )
            )
    fight = told.plan.fight if told.plan else None
    if told.plan is not None and fight is not None:
        found.append(
            Finding(
                "rods-fight-brace",
                Severity.CAUTION,
                fight.rod,
                f"With {fight.brace} still tight the same turns pull {fight.rod_n:.0f} N in the rod and "
                f"{fight.brace_n:.0f} N in the brace for {fight.rise_mm:.2f} mm of lift.",
                fight.rod_n,
                None,
                "frame with its braces tight",
                "loosen the braces, lift, tighten again",
            )
        )
    if told.plan is not None and not told.plan.holds:
        worst_step = max(told.plan.steps, key=lambda each: each.share)
        found.append(
            Finding(
                "not-level",
                Severity.CAUTION,
                worst_step.nearest,
                f"On the way to level it reaches {worst_step.share:.0%} of what it may carry.",
                worst_step.share,
                1.0,
                "each step checked",
                "take the machine off to level",
            )
        )
    return found
