//! Does the description of a scene say what a newcomer needs, in aligned columns?

use bendwise::device::Wire;
use bendwise::report::scene::{BranchLine, CAUTION, Scene, describe};
use bendwise::scenario::model::{
    AidsSpec, AttachmentSpec, BendSpec, BranchSpec, CoreLawSpec, EndCondition, GuideSpec,
    NarrowingSpec, PathSpec, PieceSpec, Place, Scenario, SolverSpec, StiffnessSpec, StudySpec,
    TargetSpec, TechniqueSpec, TipSpec, VariationSpec, VesselSpec, WireSpec,
};
use bendwise::scenario::view::SightSpec;
use bendwise::technique::{Feeds, Push, Redirect};
use bendwise::trial::Reaching;
use bendwise::vessel::Course;
use nalgebra::Vector3;
use std::f64::consts::PI;

fn branch(name: &str, parent: Option<&str>) -> BranchSpec {
    BranchSpec {
        name: name.to_owned(),
        attached: parent.map(|parent| AttachmentSpec {
            parent: parent.to_owned(),
            station_mm: Some(20.0),
            place: Place::default(),
        }),
        path: PathSpec::Pieces {
            start_mm: Vector3::zeros(),
            direction: Vector3::x(),
            take_off_rad: 70_f64.to_radians(),
            take_off_plane_rad: 0.0,
            pieces: vec![PieceSpec::Straight { length_mm: 40.0 }],
        },
        diameters: vec![(0.0, 3.0)],
        place: Place::default(),
    }
}

fn wire(name: &str, stiffness: StiffnessSpec, tip: TipSpec) -> WireSpec {
    WireSpec {
        name: name.to_owned(),
        diameter_mm: 0.3556,
        stiffness,
        torsion_ratio: 1.0 / 1.3,
        friction: 0.04,
        tip,
        strain_limit: 0.008,
        core_law: CoreLawSpec::Elastic,
        place: Place::default(),
    }
}

fn wires() -> Vec<WireSpec> {
    let bend = BendSpec {
        from_tip_mm: 0.0,
        length_mm: 2.0,
        angle_rad: 45_f64.to_radians(),
        plane_rad: 0.0,
    };
    let soft = StiffnessSpec::TipLoad {
        tip_load_mn: 9.806_65,
        end_condition: EndCondition::FixedPinned,
        grind: vec![(20.0, 0.08), (200.0, 0.1905)],
        modulus_mn_per_mm2: 200e6,
    };
    let solid = StiffnessSpec::Grind {
        grind: vec![(0.0, 0.3556)],
        modulus_mn_per_mm2: 200e6,
    };
    let bent = TipSpec {
        primary: Some(bend),
        secondary: None,
    };
    let straight = TipSpec {
        primary: None,
        secondary: None,
    };
    vec![
        wire("soft", soft, bent),
        wire("solid steel", solid, straight),
    ]
}

fn scenario() -> Scenario {
    let technique = |name: &str, plan| TechniqueSpec {
        name: name.to_owned(),
        plan,
        aids: AidsSpec::default(),
        sight: SightSpec::Full,
        place: Place::default(),
    };
    let redirect = Redirect {
        attempts: 5,
        withdraw_to_mm: 6.0,
        turn_rad: Some(PI / 3.0),
        beyond_rad: None,
        rock_rad: 0.0,
        feeds: Feeds::AnyTime,
    };
    Scenario {
        name: "one-branch".to_owned(),
        origin: "invented".to_owned(),
        description: "A straight vessel with one branch.".to_owned(),
        study: StudySpec {
            trials: 32,
            seed: 1,
            recorded: 2,
            record_every_mm: 0.5,
        },
        bed: None,
        motion: None,
        obstacles: Vec::new(),
        vessel: VesselSpec {
            narrowings: vec![NarrowingSpec {
                branch: "side".to_owned(),
                station_mm: 12.0,
                length_mm: 5.0,
                diameter_mm: 1.2,
                place: Place::default(),
            }],
            carina_blend_mm: 0.3,
            ..VesselSpec::new(vec![branch("main", None), branch("side", Some("main"))])
        },
        guide: GuideSpec {
            branch: "main".to_owned(),
            station_mm: 2.0,
            backup_stiffness_mn_per_mm: Some(80.0),
            back_out_limit_mm: 10.0,
            inner_diameter_mm: 1.8,
            place: Place::default(),
        },
        target: TargetSpec {
            branch: "side".to_owned(),
            beyond_ostium_mm: 5.0,
            hold_mm: Some(4.0),
            hold_share: 0.5,
            prolapse_lead_mm: 2.0,
            astray_mm: 8.0,
            max_fed_mm: 60.0,
            wall_force_limit_mn: None,
            place: Place::default(),
        },
        wires: wires(),
        catheters: Vec::new(),
        techniques: vec![
            technique("push", Push.into()),
            technique("redirect", redirect.into()),
        ],
        view: None,
        variation: VariationSpec {
            roll_half_width_rad: PI,
            roll_middle_rad: 0.0,
            friction_cv: 0.2,
            turn_sd_rad: 5_f64.to_radians(),
            diameter_cv: 0.05,
            bend_cv: 0.1,
        },
        solver: SolverSpec {
            step_mm: 0.2,
            edge_mm: 0.25,
            tolerance: 1e-6,
            feed_speed_mm_per_s: 5.0,
            ..SolverSpec::default()
        },
    }
}

fn branches() -> Vec<BranchLine> {
    let main = BranchLine {
        name: "main".to_owned(),
        parent: None,
        length_mm: 40.0,
        diameters_mm: [3.0, 2.5, 2.5],
        take_off_rad: None,
        ostium_mm: None,
        mouth_mm: None,
        tightest_radius_mm: f64::INFINITY,
        tightest_at_mm: 0.0,
        course: Course {
            tortuosity: 1.0,
            bend_rad: 0.0,
            curvature_per_mm: 0.0,
            torsion_per_mm: 0.0,
        },
        swing: None,
    };
    let side = BranchLine {
        name: "side".to_owned(),
        parent: Some(("main".to_owned(), 20.0)),
        length_mm: 30.04,
        diameters_mm: [2.0, 1.8, 1.2],
        take_off_rad: Some(70_f64.to_radians()),
        ostium_mm: Some(1.596),
        mouth_mm: Some(1.958),
        tightest_radius_mm: 8.04,
        tightest_at_mm: 17.5,
        course: Course {
            tortuosity: 1.25,
            bend_rad: 1.5,
            curvature_per_mm: 0.05,
            torsion_per_mm: 0.012,
        },
        swing: None,
    };
    vec![main, side]
}

fn described() -> String {
    let scenario = scenario();
    let wires: Vec<Wire> = scenario
        .wires
        .iter()
        .map(|spec| Wire::from_spec(spec).expect("a valid wire"))
        .collect();
    describe(&Scene {
        scenario: &scenario,
        content_hash: "0123abcd",
        warnings: &["wire 'soft': tip load is unusual".to_owned()],
        branches: &branches(),
        reaching: &Reaching {
            mouth_mm: 1.958,
            beyond_mm: 5.0,
            hold_mm: 4.0,
            share: 0.5,
        },
        wires: &wires,
        remarks: &[],
        imported: None,
    })
}

/// Lines of the section whose title begins with `title`, without the title.
fn section(title: &str) -> Vec<String> {
    let text = described();
    let found = text
        .split("\n\n")
        .find(|part| part.trim_start().starts_with(title));
    let lines = found.unwrap_or_else(|| panic!("no {title} in\n{text}"));
    lines.lines().skip(1).map(str::to_owned).collect()
}

#[test]
fn sections_come_in_the_order_of_the_scenario_and_the_caution_once() {
    let text = described();
    let titles: Vec<&str> = text
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with(' '))
        .map(|line| line.split(" in ").next().expect("a title"))
        .collect();
    let expected = [
        "WARNINGS",
        "VESSEL",
        "GUIDE",
        "TARGET",
        "WIRES",
        "TIP SHAPE",
        "BENDING STIFFNESS",
        "EQUIVALENT CORE DIAMETER",
        "TECHNIQUES",
        "VARIATION from trial to trial",
        "STUDY",
        "SOLVER (by how much it may change an answer: bendwise evidence)",
        "CAUTION",
    ];
    assert_eq!(titles, expected);
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(words(&text).matches(&words(CAUTION)).count(), 1);
}

#[test]
fn branches_are_listed_with_their_geometry() {
    let lines = section("VESSEL");
    let expected = [
        "  branch  parent   leaves at  length     lumen   lumen     lumen  take-off  ostium  mouth   tightest  tightest",
        "                          mm      mm  start mm  end mm  least mm       deg      mm  to mm  radius mm     at mm",
        "  main    (inlet)          -    40.0      3.00    2.50      2.50         -       -      -   straight         -",
        "  side    main          20.0    30.0      2.00    1.80      1.20        70    1.60   1.96        8.0      17.5",
    ];
    assert_eq!(lines[..4], expected);
    let narrowing = "side to 1.2 mm at 12 mm over 5 mm";
    assert!(lines.iter().any(|line| line.ends_with(narrowing)));
}

#[test]
fn stiffness_at_the_stations_is_that_of_the_published_tables() {
    let lines = section("BENDING STIFFNESS");
    let cells: Vec<Vec<&str>> = lines
        .iter()
        .map(|line| {
            line.split("  ")
                .filter(|cell| !cell.is_empty())
                .map(str::trim)
                .collect()
        })
        .collect();
    assert_eq!(
        cells[0],
        [
            "wire", "0 mm", "5 mm", "10 mm", "20 mm", "50 mm", "100 mm", "200 mm"
        ]
    );
    // 1 gf fixed-pinned: 0.0486 N mm²; steel of 0.0075 in 12.9, of 0.014 in 157 N mm²; of
    // 0.08 mm 200 GPa x pi x 0.08^4 / 64 = 0.402 N mm².
    assert_eq!(
        cells[1][..5],
        ["soft", "0.0486", "0.0486", "0.0486", "0.402"]
    );
    assert_eq!(cells[1][7], "12.9");
    assert_eq!(
        cells[2],
        [
            "solid steel",
            "157",
            "157",
            "157",
            "157",
            "157",
            "157",
            "157"
        ]
    );
}

#[test]
fn tip_loads_are_listed_as_given_and_for_both_end_conditions() {
    let lines = section("WIRES");
    // 20.1907 / 2.4674 = 8.183 between the two end conditions.
    let cells: Vec<&str> = lines[2].split_whitespace().collect();
    let expected = [
        "soft", "0.3556", "1.00", "0.122", "0.0400", "0.769", "200", "0.800", "elastic", "98.1",
    ];
    assert_eq!(cells, expected);
    let given = "tip load 1.00 gf fixed-pinned, core from 20.0 mm";
    assert!(lines.iter().any(|line| line.ends_with(given)));
    assert!(section("TIP SHAPE")[2].contains("primary"));
    assert!(section("TIP SHAPE")[3].contains("straight"));
}

#[test]
fn the_study_counts_its_strategies() {
    assert!(section("STUDY")[0].contains("4 (wires: 2, techniques: 2)"));
    assert!(section("TECHNIQUES").concat().contains("turn by 60 deg"));
    assert!(
        section("GUIDE")
            .concat()
            .contains("80 mN/mm; lost when pushed back by 10 mm")
    );
}
