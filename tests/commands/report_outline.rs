//! Does the outline that figures and exports draw lie on the lumen that the mechanics sees?
#![allow(clippy::float_cmp, reason = "numbers are copied, not computed")]

use std::f64::consts::FRAC_PI_3;

use approx::assert_abs_diff_eq;

use crate::vessel_common::{inlet, side, straight, vessel};
use bendwise::report::{SceneOutline, Setting};
use bendwise::scenario::model::{
    AidsSpec, CoreLawSpec, EndCondition, GuideSpec, Scenario, SolverSpec, StiffnessSpec, StudySpec,
    TargetSpec, TechniqueSpec, TipSpec, VariationSpec, WireSpec,
};
use bendwise::scenario::view::SightSpec;
use bendwise::study::{Part, StrategyLabel, StudySetup};
use bendwise::technique::Push;
use bendwise::trial::Prepared;
use bendwise::vessel::Lumen;

/// A straight vessel of 3 mm with a branch, one wire and one technique.
fn scenario() -> Scenario {
    let place = bendwise::scenario::model::Place::default();
    Scenario {
        name: "straight".to_owned(),
        origin: "invented".to_owned(),
        description: String::new(),
        study: StudySpec {
            trials: 4,
            seed: 9,
            recorded: 6,
            record_every_mm: 1.0,
        },
        bed: None,
        motion: None,
        obstacles: Vec::new(),
        vessel: vessel(
            vec![
                inlet("main", vec![straight(20.0)], 3.0),
                side(
                    "side",
                    ("main", 12.0),
                    (FRAC_PI_3, 0.0),
                    vec![straight(15.0)],
                    2.0,
                ),
            ],
            0.5,
        ),
        guide: GuideSpec {
            branch: "main".to_owned(),
            station_mm: 5.0,
            backup_stiffness_mn_per_mm: None,
            back_out_limit_mm: 5.0,
            inner_diameter_mm: 1.8,
            place: place.clone(),
        },
        target: TargetSpec {
            branch: "side".to_owned(),
            beyond_ostium_mm: 3.0,
            hold_mm: Some(3.0),
            hold_share: 0.5,
            prolapse_lead_mm: 2.0,
            astray_mm: 3.0,
            max_fed_mm: 30.0,
            wall_force_limit_mn: None,
            place: place.clone(),
        },
        wires: vec![WireSpec {
            name: "soft".to_owned(),
            diameter_mm: 0.36,
            stiffness: StiffnessSpec::TipLoad {
                tip_load_mn: 3.0,
                end_condition: EndCondition::FixedPinned,
                grind: Vec::new(),
                modulus_mn_per_mm2: 2e8,
            },
            torsion_ratio: 0.77,
            friction: 0.05,
            tip: TipSpec {
                primary: None,
                secondary: None,
            },
            strain_limit: 0.02,
            core_law: CoreLawSpec::Elastic,
            place: place.clone(),
        }],
        catheters: Vec::new(),
        techniques: vec![TechniqueSpec {
            name: "push".to_owned(),
            plan: Push.into(),
            aids: AidsSpec::default(),
            sight: SightSpec::Full,
            place: place.clone(),
        }],
        view: None,
        variation: VariationSpec {
            roll_half_width_rad: 1.0,
            roll_middle_rad: 0.0,
            friction_cv: 0.0,
            turn_sd_rad: 0.0,
            diameter_cv: 0.0,
            bend_cv: 0.0,
        },
        solver: SolverSpec {
            step_mm: 0.2,
            edge_mm: 0.3,
            tolerance: 1e-6,
            feed_speed_mm_per_s: 2.0,
            ..SolverSpec::default()
        },
    }
}

#[test]
fn outline_points_lie_on_the_axis_of_the_lumen_and_the_guide_on_its_branch() {
    let prepared = Prepared::new(&scenario()).unwrap();
    let outline = SceneOutline::new(&prepared);
    let points = &outline.branches[0].points;
    let step = (points[1].position_mm - points[0].position_mm).norm();
    assert!(step <= 0.5 + 1e-9, "{step}");
    let first = points[0].position_mm;
    for point in points {
        assert_abs_diff_eq!(point.radius_mm, 1.5, epsilon = 1e-9);
        // Before the branch leaves, the wall is one radius away from the axis.
        if (point.position_mm - first).norm() < 8.0 {
            let distance = prepared.tree().distance(&point.position_mm);
            assert_abs_diff_eq!(distance, -1.5, epsilon = 1e-6);
        }
    }
    let last = points[points.len() - 1].position_mm;
    assert_abs_diff_eq!((last - first).norm(), 20.0, epsilon = 1e-6);
    assert_abs_diff_eq!((outline.guide_end_mm - first).norm(), 5.0, epsilon = 1e-6);
    let along = (last - first) / 20.0;
    assert_abs_diff_eq!(outline.guide_direction, along, epsilon = 1e-6);
    assert_eq!(outline.target_branch().unwrap().name, "side");
}

#[test]
fn setting_and_setup_take_names_and_numbers_from_the_scenario() {
    let scenario = scenario();
    let setting = Setting::new(&Prepared::new(&scenario).unwrap(), None);
    assert_eq!(setting.wires, [("soft".to_owned(), 0.36)]);
    let label = StrategyLabel {
        name: "push soft".to_owned(),
        slug: "push-soft".to_owned(),
        technique: "push".to_owned(),
        wire: "soft".to_owned(),
    };
    let setup = StudySetup::of_scenario(&scenario, "abc", vec![label]);
    // Six recorded trials are asked for, and there are only four.
    assert_eq!((setup.recorded, setup.seed), (4, 9));
    assert_eq!(Part::whole(setup).total(), Some(4));
}
