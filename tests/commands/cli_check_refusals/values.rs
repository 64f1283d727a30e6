//! Values outside their range; more of them, and those that look like another unit, in `texts`.

use crate::cli_check_refusals::refused;

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
fn friction_below_0_is_refused() {
    refused(
        "friction = 0.05",
        "friction = -0.1",
        &["friction in [[wire]] \"soft\" is -0.1", "0 to 2"],
    );
}

#[test]
fn a_number_that_is_infinite_is_refused() {
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
fn a_plateau_stress_above_the_upper_one_is_refused() {
    refused(
        "tip_load_gf = 0.3",
        "lower_over_upper = 1.5\ncore_law = \"superelastic\"\ntip_load_gf = 0.3",
        &["lower_over_upper in [[wire]] \"soft\" is 1.5", "0 to 1"],
    );
}
