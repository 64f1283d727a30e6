//! A word on each column of the tables of a page, found by how its head begins.

/// Beginning of a head, and what the column says. The first one that fits holds.
const MEANINGS: &[(&str, &str)] = &[
    ("strategy", "A technique with a wire."),
    (
        "largest change of a draw",
        "Largest change of the force of one draw between the settings as they are and the finest, in %.",
    ),
    (
        "draws that end alike",
        "Draws that end in the same way with all of these settings; only they are compared.",
    ),
    (
        "reached",
        "Trials whose tip lay beyond the whole mouth of the target and went deeper when fed further, of all trials.",
    ),
    (
        "rate, second minus first",
        "Difference of the success rates on the same draws, in percentage points, with its 95 % interval.",
    ),
    (
        "rate",
        "Share of the trials that reached, in %, with the interval that would hold the true rate in 95 of 100 such studies.",
    ),
    (
        "attempts",
        "How often the technique tried; the median over all trials.",
    ),
    (
        "wall force without",
        "Largest normal force on a millimetre of wall in a trial, in mN, that of leaving the guide left away: median over the trials and high end.",
    ),
    (
        "wall force",
        "Largest normal force on a millimetre of wall, in mN.",
    ),
    (
        "push force",
        "Largest force with which the hand pushes the wire in a trial, in mN.",
    ),
    (
        "push on",
        "Largest force with which the hand pushes it forward in a trial, in mN.",
    ),
    (
        "pull on",
        "Largest force with which the hand holds or draws it back in a trial, in mN.",
    ),
    (
        "torque on",
        "Largest torque of the hand in either sense in a trial, in mN mm.",
    ),
    (
        "fed + withdrawn",
        "Length that the hands moved wire and catheter in all, forward and back, in mm.",
    ),
    ("turned", "All turns of the hands, either way, in degrees."),
    (
        "bending strain",
        "Largest bending strain of the core in any trial, divided by its limit; above 1 the core yields.",
    ),
    (
        "set kept",
        "Angle that the unloaded wire keeps after the trial, in degrees.",
    ),
    (
        "leaving the guide",
        "In the guide or within 10 mm of its end, where the guide holds the wire; in mN.",
    ),
    (
        "on the way",
        "Between guide and mouth, or past the target; in mN.",
    ),
    (
        "at the target's mouth",
        "Around the target's ostium, as far as the lumens run into each other; in mN.",
    ),
    ("beyond it", "In the target past its mouth; in mN."),
    (
        "axis moved",
        "Farthest that the vessel's axis was pushed aside, in mm.",
    ),
    (
        "turning lost",
        "Largest loss of the vessel's own bending within 10 mm of it, in degrees.",
    ),
    (
        "compression of",
        "Largest shortening of the vessel's wall along it; 0.1 is 10 %.",
    ),
    (
        "wrong branch",
        "Trials whose tip lay in another vessel when the plan was at its end.",
    ),
    (
        "prolapsed",
        "Trials in which another point of the wire led the tip.",
    ),
    (
        "stalled",
        "Trials in which wire was fed and the tip stayed.",
    ),
    (
        "out of wire",
        "Trials that used up the wire that may be outside the guide.",
    ),
    (
        "backed out",
        "Trials in which the guide was pushed out of its place.",
    ),
    (
        "over force limit",
        "Trials whose wall force exceeded the scenario's limit.",
    ),
    (
        "unresolved",
        "Trials for which no equilibrium was found; they count as not reached.",
    ),
    ("both reached", "Draws on which both strategies reached."),
    ("only first", "Draws on which only the first reached."),
    ("only second", "Draws on which only the second reached."),
    ("neither", "Draws on which neither reached."),
    (
        "p (by draws)",
        "Probability of a difference this large or larger if there were none; not corrected for many comparisons.",
    ),
    ("reason", "Why trials did not reach, in few words."),
    (
        "trials for a width",
        "Trials that would make the interval of the rate this narrow.",
    ),
    ("trials", "Number of trials."),
    (
        "draws",
        "Different draws that the trials used; all points share them.",
    ),
    (
        "effective trials",
        "Independent trials that would tell as much as these, which share draws.",
    ),
    (
        "fields alike",
        "Fields of the map whose interval reaches up to the best rate.",
    ),
    (
        "first order",
        "Share of the variance of what the row names that the input explains alone, with its 95 % interval.",
    ),
    (
        "total",
        "Share of the variance in which this parameter takes part.",
    ),
    (
        "foreshortening",
        "Share of its length that a vessel loses in the image: 0 % seen in full, 100 % end-on.",
    ),
    (
        "overlap",
        "Share of the branch in front of or behind which another vessel lies.",
    ),
    (
        "ostium in profile",
        "How far to the side of its parent's axis the ostium is seen, over its true distance.",
    ),
    (
        "ostium",
        "Distance along the branch at which it leaves its parent's lumen, in mm.",
    ),
    (
        "take-off",
        "Turn that the wire must make into the branch, in degrees: 0 straight on, 90 square, above 90 backwards.",
    ),
    ("within reach", "Whether the C-arm gets there."),
    ("view", "Viewing direction by the two angles of a C-arm."),
    (
        "mouth",
        "Distance along the branch at which its whole mouth ends, in mm.",
    ),
    (
        "tightest",
        "Smallest radius of curvature of the vessel's axis, and where it is, in mm.",
    ),
    (
        "leaves at",
        "Distance along the parent at which the branch begins, in mm.",
    ),
    ("lumen", "Diameter of the lumen, in mm."),
    (
        "tortuosity",
        "Length of the branch over the distance of its ends.",
    ),
    (
        "all bends",
        "Sum of all turns along the branch, in degrees.",
    ),
    ("curvature", "Mean curvature along the branch, in 1/mm."),
    (
        "torsion",
        "How fast the plane of the bends turns along the branch, in 1/mm.",
    ),
    (
        "fixed-pinned",
        "Tip load with the tip held from sliding, in gram-force.",
    ),
    (
        "fixed-free",
        "Tip load with a tip that may move aside, in gram-force.",
    ),
    ("friction", "Coulomb coefficient between wire and wall."),
    ("GJ/EI", "Torsional over bending stiffness."),
    ("modulus", "Young's modulus of the core, in GPa."),
    (
        "strain limit",
        "Bending strain at which the core yields, in %.",
    ),
    ("core", "What the core does beyond its strain limit."),
    (
        "axial cap",
        "Axial stiffness that the solver computes with, in N.",
    ),
    ("diameter", "Outer diameter, in mm."),
    ("from tip", "Where the bend ends, from the tip, in mm."),
    ("angle", "Angle turned by the bend, in degrees."),
    ("plane", "Direction of the bend about the wire, in degrees."),
    ("mean radius", "Radius of the bend, in mm."),
    ("unit", "Unit of the numbers of the row."),
    (
        "fork",
        "Where the way that the tip took parts from the way to the target.",
    ),
    ("limit", "The value that the scenario or the model sets."),
    ("largest", "Largest value of any trial."),
    ("verdict", "Pass: no trial is beyond the limit."),
];

/// What a column with this head says; `None` where its head says it all.
#[must_use]
pub fn meaning(head: &str) -> Option<&'static str> {
    let head = head.to_lowercase();
    let mut all = MEANINGS.iter();
    all.find(|(start, _)| head.starts_with(&start.to_lowercase()))
        .map(|(_, meaning)| *meaning)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_meaning_is_hidden_by_one_before_it() {
        for (i, (start, _)) in MEANINGS.iter().enumerate() {
            let found = meaning(start);
            assert_eq!(found, Some(MEANINGS[i].1), "{start}");
        }
    }
}
