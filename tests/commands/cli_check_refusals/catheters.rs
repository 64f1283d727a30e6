//! Support catheters that cannot be what a scenario says, or that do not go with the rest of it.

use crate::cli_check_refusals::refused_at;

/// A technique with a catheter in place of a push: `technique` and `catheter` are their fields.
fn refused(technique: &str, catheter: &str, at: &str, says: &[&str]) {
    let new = format!("{technique}\n[[catheter]]\n{catheter}\n");
    refused_at("kind = \"push\"", &new, at, says);
}

const SUPPORT: &str = "kind = \"support\"\ncatheter = \"tube\"";
const ANGLED: &str = "kind = \"angled-support\"\ncatheter = \"tube\"";
const TUBE: &str = "name = \"tube\"\nouter_diameter_fr = 2\ninner_diameter_mm = 0.45\n\
                    stiffness_N_mm2 = [[0, 0.3]]\nsurface = \"steel\"";

#[test]
fn a_catheter_smaller_than_its_wire_is_refused() {
    refused(
        SUPPORT,
        &TUBE.replace("0.45", "0.35"),
        "inner_diameter_mm",
        &[
            "inner_diameter_mm in [[catheter]] \"tube\" is 0.35",
            "wire \"soft\" is 0.3556 mm thick and does not go through",
        ],
    );
}

#[test]
fn a_catheter_wider_than_a_vessel_on_its_way_is_refused() {
    let narrow = "\n[[vessel.narrowing]]\nbranch = \"parent\"\nat_mm = 15\nlength_mm = 6\n\
                  diameter_mm = 0.6\n";
    let new = format!("{SUPPORT}\n{narrow}\n[[catheter]]\n{TUBE}\n");
    refused_at(
        "kind = \"push\"",
        &new,
        "[[catheter]]",
        &[
            "catheter \"tube\" is 0.667 mm",
            "0.600 mm wide at 15.0 mm in branch \"parent\"",
        ],
    );
}

#[test]
fn a_catheter_that_does_not_go_through_the_guide_is_refused() {
    refused(
        SUPPORT,
        &TUBE.replace("outer_diameter_fr = 2", "outer_diameter_mm = 3.5"),
        "outer_diameter_mm",
        &["the guide is", "take a thinner catheter or a wider guide"],
    );
}

#[test]
fn a_catheter_thinner_outside_than_inside_is_refused() {
    refused(
        SUPPORT,
        &TUBE.replace("0.45", "0.75"),
        "inner_diameter_mm",
        &["the catheter is 0.667 mm thick outside"],
    );
}

#[test]
fn a_technique_whose_catheter_is_missing_gets_a_near_name() {
    refused(
        &SUPPORT.replace("tube", "tub"),
        TUBE,
        "catheter = \"tub\"",
        &[
            "catheter in [[technique]]",
            "not the name of a catheter",
            "did you mean tube?",
        ],
    );
    refused_at(
        "kind = \"push\"",
        SUPPORT,
        "catheter = \"tube\"",
        &[
            "the scenario describes no catheter",
            "add a [[catheter]] table",
        ],
    );
    refused_at(
        "kind = \"push\"",
        "kind = \"support\"",
        "[[technique]]",
        &["catheter"],
    );
}

#[test]
fn a_straight_catheter_cannot_be_aimed() {
    refused(
        ANGLED,
        TUBE,
        "catheter = \"tube\"",
        &["the tip of catheter \"tube\" is straight and cannot be aimed"],
    );
}

#[test]
fn an_angle_beyond_the_steerable_range_is_refused() {
    let steerable = format!("{TUBE}\ntip = {{ length_mm = 4, steerable_deg = [0, 90] }}");
    refused(
        &format!("{ANGLED}\nangle_deg = 120"),
        &steerable,
        "angle_deg = 120",
        &["catheter \"tube\" can be steered from 0 to 90 deg"],
    );
    let put_in =
        format!("{TUBE}\ntip = {{ length_mm = 4, steerable_deg = [0, 90], angle_deg = 91 }}");
    refused(
        ANGLED,
        &put_in,
        "steerable_deg",
        &["the tip can be steered from 0 to 90 deg"],
    );
    let reversed = format!("{TUBE}\ntip = {{ length_mm = 4, steerable_deg = [90, 0] }}");
    refused(
        ANGLED,
        &reversed,
        "steerable_deg",
        &["give the smaller angle first"],
    );
}

#[test]
fn a_preformed_tip_cannot_be_steered() {
    let preformed = format!("{TUBE}\ntip = {{ length_mm = 4, angle_deg = 90 }}");
    refused(
        &format!("{ANGLED}\nangle_deg = 61"),
        &preformed,
        "angle_deg = 61",
        &["the tip of catheter \"tube\" is preformed and cannot be steered"],
    );
}

#[test]
fn a_bend_tighter_than_the_catheter_is_refused() {
    let tight = format!("{TUBE}\ntip = {{ length_mm = 0.4, angle_deg = 120 }}");
    refused(
        ANGLED,
        &tight,
        "[[catheter]]",
        &["radius of the tip's bend"],
    );
}

#[test]
fn a_diameter_in_french_written_as_mm_is_recognised() {
    refused(
        SUPPORT,
        &TUBE.replace("outer_diameter_fr = 2", "outer_diameter_mm = 5"),
        "outer_diameter_mm",
        &["5 looks like French: 5 French is 1.667 mm"],
    );
}
