//! Values outside their range, and those that look like another unit.

use crate::cli_check_refusals::refused;

#[test]
fn a_tip_load_of_300_is_suspected_to_be_in_mn() {
    refused(
        "tip_load_gf = 0.3",
        "tip_load_gf = 300",
        &[
            "tip_load_gf in [[wire]] \"soft\" is 300 gf",
            "0.05 to 50 gf",
            "looks like mN?",
        ],
    );
}

#[test]
fn a_wire_of_14_mm_is_suspected_to_be_in_thousandths_of_an_inch() {
    refused(
        "diameter_mm = 0.3556",
        "diameter_mm = 14",
        &[
            "diameter_mm in [[wire]] \"soft\" is 14 mm",
            "0.1 to 1 mm",
            "0.014 inch is 0.3556 mm",
        ],
    );
}

#[test]
fn a_negative_length_is_refused() {
    refused(
        "length_mm = 60",
        "length_mm = -60",
        &[
            "length_mm in piece 1 of [[vessel.branch]] \"parent\" is -60 mm",
            "above 0",
        ],
    );
}

#[test]
fn a_length_of_zero_is_refused() {
    refused(
        "length_mm = 2,",
        "length_mm = 0,",
        &["length_mm in bend of [[wire]] \"soft\" is 0 mm", "above 0"],
    );
}

#[test]
fn a_lumen_of_zero_is_refused() {
    refused(
        "diameter_mm = 3.0",
        "diameter_mm = 0",
        &[
            "diameter_mm in [[vessel.branch]] \"parent\" is 0 mm",
            "above 0",
        ],
    );
}

#[test]
fn friction_below_0_and_above_2_is_refused() {
    refused(
        "friction = 0.05",
        "friction = -0.1",
        &["friction in [[wire]] \"soft\" is -0.1", "0 to 2"],
    );
    refused(
        "friction = 0.05",
        "friction = 2.5",
        &["friction in [[wire]] \"soft\" is 2.5", "0 to 2"],
    );
}

#[test]
fn numbers_that_are_not_finite_are_refused() {
    refused(
        "friction = 0.05",
        "friction = nan",
        &["friction in [[wire]] \"soft\" is NaN", "0 to 2"],
    );
    refused(
        "at_mm = 30",
        "at_mm = inf",
        &[
            "at_mm in [[vessel.branch]] \"side\" is inf",
            "0 to 10000 mm",
        ],
    );
}

#[test]
fn zero_trials_are_refused() {
    refused(
        "trials = 4",
        "trials = 0",
        &["trials in [study] is 0 trials", "1 to 1000000"],
    );
}

#[test]
fn a_list_that_does_not_rise_is_refused() {
    refused(
        "[25, 1.5]",
        "[0, 1.5]",
        &[
            "diameters_mm entry 2 in [[vessel.branch]] \"side\"",
            "0 mm does not lie beyond 0 mm",
        ],
    );
}

#[test]
fn a_law_of_the_core_that_is_not_known_is_refused() {
    refused(
        "tip_load_gf = 0.3",
        "core_law = \"superlastic\"\ntip_load_gf = 0.3",
        &["core_law", "superlastic", "superelastic"],
    );
}

#[test]
fn a_plateau_of_a_core_that_has_none_is_refused() {
    refused(
        "tip_load_gf = 0.3",
        "plateau_strain = 0.05\ntip_load_gf = 0.3",
        &[
            "plateau_strain",
            "only a superelastic core has a plateau",
            "core_law = \"superelastic\"",
        ],
    );
}

#[test]
fn a_plateau_stress_above_the_upper_one_is_refused() {
    refused(
        "tip_load_gf = 0.3",
        "lower_over_upper = 1.5\ncore_law = \"superelastic\"\ntip_load_gf = 0.3",
        &["lower_over_upper in [[wire]] \"soft\" is 1.5", "0 to 1"],
    );
}
