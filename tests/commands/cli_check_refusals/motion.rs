//! A vessel that cannot move as it is said.

use crate::cli_check_refusals::{refused, refused_at};

/// The sound scenario with a heart that says `fields` is refused where `at` stands.
fn heart(fields: &str, at: &str, says: &[&str]) {
    let table = format!("[vessel.motion.heart]\nbeats_per_minute = 70\n{fields}\n\n[guide]");
    refused_at("[guide]", &table, at, says);
}

#[test]
fn a_movement_that_moves_nothing() {
    refused(
        "[guide]",
        "[vessel.motion]\n\n[guide]",
        &["it moves nothing", "[vessel.motion.breath]"],
    );
    heart(
        "",
        "[vessel.motion.heart]",
        &["no branch is moved", "over_muscle"],
    );
}

#[test]
fn an_absurd_rate() {
    for (rate, allowed) in [
        ("900", "allowed is 30 to 220"),
        ("0", "allowed is 30 to 220"),
    ] {
        let table = format!("[vessel.motion.heart]\nbeats_per_minute = {rate}\n\n[guide]");
        refused_at("[guide]", &table, "beats_per_minute", &[allowed]);
    }
    refused_at(
        "[guide]",
        "[vessel.motion.breath]\nbreaths_per_minute = 1\n\n[guide]",
        "breaths_per_minute",
        &["allowed is 4 to 60"],
    );
}

#[test]
fn a_branch_that_is_none_or_of_two_kinds() {
    heart(
        "over_muscle = [\"sid\"]",
        "over_muscle",
        &["not the name of a branch", "did you mean side?"],
    );
    heart(
        "over_muscle = [\"side\"]\nin_groove = [\"side\"]\ngroove_towards = [0, 0, 1]",
        "in_groove",
        &["it stands in over_muscle too"],
    );
}

#[test]
fn a_direction_that_is_missing_or_none_or_along_the_branch() {
    heart(
        "in_groove = [\"side\"]",
        "[vessel.motion.heart]",
        &["groove_towards"],
    );
    heart(
        "in_groove = [\"side\"]\ngroove_towards = [0, 0, 0]",
        "groove_towards",
        &["a direction has a length above 0"],
    );
    heart(
        "in_groove = [\"parent\"]\ngroove_towards = [1, 0, 0]",
        "[vessel.motion.heart]",
        &[
            "branch \"parent\" runs in that direction",
            "across the branch",
        ],
    );
    refused_at(
        "[guide]",
        "[vessel.motion.breath]\nbreaths_per_minute = 15\n\n[guide]",
        "[vessel.motion.breath]",
        &["towards"],
    );
}

#[test]
fn a_short_branch_that_is_to_go_far() {
    heart(
        "in_groove = [\"side\"]\ngroove_towards = [0, 0, 1]\ngroove_moves_mm = 35",
        "[vessel.motion.heart]",
        &["branch \"side\" cannot go 35 mm", "let it go less far"],
    );
}

#[test]
fn a_beat_that_folds_the_vessel() {
    refused_at(
        "diameter_mm = 3.0\npieces = [{ shape = \"straight\", length_mm = 60 }]\n",
        "diameter_mm = 8.0\npieces = [{ shape = \"straight\", length_mm = 60 }]\n\n[vessel.motion.heart]\n\
         beats_per_minute = 70\nover_muscle = [\"parent\"]\ncurvature_gain_per_cm = 2\n",
        "[vessel.motion.heart]",
        &[
            "branch \"parent\" would be folded",
            "% of the beat",
            "lower curvature_gain_per_cm",
        ],
    );
}

#[test]
fn a_beat_that_a_step_could_miss() {
    refused_at(
        "[guide]",
        "[vessel.motion.heart]\nbeats_per_minute = 70\nover_muscle = [\"side\"]\n\n[solver]\nstep_mm = 1\n\
         feed_speed_mm_per_s = 1\n\n[guide]",
        "[vessel.motion.heart]",
        &["a beat takes 0.86 s", "lower step_mm"],
    );
}

#[test]
fn phases_without_a_file_at_end_diastole_or_beside_kinds_or_none() {
    heart(
        "phases = [\"systole.vtp\"]",
        "phases",
        &["the vessel itself comes from no file"],
    );
    heart(
        "phases = [\"systole.vtp\"]\nover_muscle = [\"side\"]",
        "phases",
        &["keep one of the two"],
    );
    heart("phases = []", "phases", &["one phase is no movement"]);
}

#[test]
fn what_would_stay_behind_while_the_vessel_beats() {
    heart(
        "over_muscle = [\"side\"]\n\n[[vessel.obstacle]]\nbranch = \"parent\"\nat_mm = 20\nlength_mm = 4\n\
         diameter_mm = 1",
        "[vessel.motion.heart]",
        &["the obstacle in \"parent\" would stay where it is"],
    );
}

#[test]
fn what_would_stay_behind_while_the_vessel_gives_way() {
    refused_at(
        "[guide]",
        "[vessel.bed]\ntissue = \"fat\"\n\n[[vessel.obstacle]]\nbranch = \"parent\"\nat_mm = 20\n\
         length_mm = 4\ndiameter_mm = 1\n\n[guide]",
        "[vessel.bed]",
        &[
            "a vessel with a bed gives way, and the obstacle in \"parent\" would stay where it is",
            "leave out [vessel.bed]",
        ],
    );
}

#[test]
fn diastole_without_a_heart() {
    refused_at(
        "[[technique]]\nkind = \"redirect\"\n",
        "[[technique]] # the second\nkind = \"redirect\"\nfeeds = \"in-diastole\"\n",
        "[[technique]] # the second",
        &["technique \"redirect\" feeds in diastole", "no heart beats"],
    );
}
