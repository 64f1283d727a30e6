//! A short scenario for commands: one vessel with a branch, a soft wire that is pushed.

/// The text of the scenario, with a table for `[study]`, further wires and a tail, each as whole lines
/// and empty for none.
macro_rules! short_way {
    ($study:literal, $wires:literal, $tail:literal) => {
        concat!(
            r#"name = "short"
origin = "invented"
description = "A short vessel with one branch."

"#,
            $study,
            r#"[vessel]

[[vessel.branch]]
name = "parent"
diameter_mm = 3.0
pieces = [{ shape = "straight", length_mm = 25 }]

[[vessel.branch]]
name = "side"
parent = "parent"
at_mm = 8
take_off_deg = 40
diameter_mm = 2.5
pieces = [{ shape = "straight", length_mm = 15 }]

[guide]
branch = "parent"

[target]
branch = "side"
beyond_ostium_mm = 3
astray_mm = 4
max_fed_mm = 30

[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 0.3
surface = "hydrophilic"
bend = { length_mm = 2, angle_deg = 45 }

"#,
            $wires,
            r#"[[technique]]
kind = "push"
"#,
            $tail,
        )
    };
}
