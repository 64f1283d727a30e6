//! From lines to a tree: each step on lines whose result is known.
#![allow(clippy::cast_possible_truncation, reason = "meshes of tests are small")]
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use crate::anatomy_common::put;
use bendwise::anatomy::tree::{ImportSettings, Naming, Which, take_off};
use bendwise::anatomy::{AnatomyError, Frame, Imported, Unit, import};
use nalgebra::Vector3;
use std::fmt::Write as _;

type Lines = Vec<(&'static str, Vec<[f64; 4]>)>;

/// A table of named lines, each a list of x, y, z, radius.
fn table(lines: &Lines) -> String {
    let mut text = String::from("branch,x,y,z,r\n");
    for (name, points) in lines {
        for [x, y, z, r] in points {
            let _ = writeln!(text, "{name},{x},{y},{z},{r}");
        }
    }
    text
}

fn settings() -> ImportSettings {
    ImportSettings {
        units: Some(Unit::Millimetre),
        frame: Some(Frame::Scene),
        ..ImportSettings::default()
    }
}

fn made(lines: &Lines, settings: &ImportSettings) -> Result<Imported, Box<AnatomyError>> {
    let folder = tempfile::tempdir().unwrap();
    let path = put(folder.path(), "lines.csv", table(lines));
    import(&path, settings).map(|(imported, _)| imported)
}

fn straight(from: [f64; 3], to: [f64; 3], radius: (f64, f64)) -> Vec<[f64; 4]> {
    let (from, to) = (Vector3::from(from), Vector3::from(to));
    let n = ((to - from).norm() / 0.5).ceil() as usize;
    (0..=n)
        .map(|i| {
            let t = i as f64 / n as f64;
            let p = from + (to - from) * t;
            [p.x, p.y, p.z, radius.0 + (radius.1 - radius.0) * t]
        })
        .collect()
}

fn way(pieces: &[Vec<[f64; 4]>]) -> Vec<[f64; 4]> {
    let mut way = pieces[0].clone();
    for piece in &pieces[1..] {
        way.extend_from_slice(&piece[1..]);
    }
    way
}

fn length(branch: &bendwise::anatomy::tree::ImportedBranch) -> f64 {
    let pairs = branch.points.windows(2);
    pairs.map(|p| (p[1] - p[0]).norm()).sum()
}

/// Lines from three tips to the root of a trunk of 30 mm, the second 0.05 mm beside the first; the
/// side branch leaves at 30 mm, and from it another at 20 mm.
fn tips_to_root() -> Lines {
    let trunk = |y: f64| straight([0.0, y, 0.0], [30.0, y, 0.0], (1.8, 1.5));
    let on = straight([30.0, 0.0, 0.0], [70.0, 0.0, 0.0], (1.5, 1.0));
    let side = straight([30.0, 0.05, 0.0], [50.0, 20.05, 0.0], (1.2, 1.0));
    let first = straight([50.0, 20.05, 0.0], [70.0, 20.05, 0.0], (0.8, 0.7));
    let second = straight([50.0, 20.05, 0.0], [55.0, 40.0, 0.0], (0.7, 0.6));
    let back = |mut line: Vec<[f64; 4]>| {
        line.reverse();
        line
    };
    vec![
        ("1", back(way(&[trunk(0.0), on]))),
        ("2", back(way(&[trunk(0.05), side.clone(), first]))),
        ("3", back(way(&[trunk(0.05), side, second]))),
    ]
}

#[test]
fn lines_that_repeat_their_trunk_become_branches_between_forks() {
    // The corners of these lines are sharp, and smoothing them more would move the forks.
    let as_stated = ImportSettings {
        smooth_more: false,
        ..settings()
    };
    let imported = made(&tips_to_root(), &as_stated).unwrap();
    let names: Vec<&str> = imported.branches.iter().map(|b| b.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "branch-1",
            "branch-1.1",
            "branch-1.1.1",
            "branch-1.1.2",
            "branch-1.2"
        ]
    );
    let tips: Vec<_> = imported.branches.iter().map(|b| b.tip).collect();
    assert_eq!(tips, [None, None, Some(1), Some(2), Some(3)]);
    // The lines part by more than 0.2 mm a little behind the corner.
    assert!((length(&imported.branches[0]) - 30.0).abs() < 0.8);
    assert!((length(&imported.branches[4]) - 40.0).abs() < 0.8);
    // What branches 1 and 2 repeat: 30 mm twice, and the side branch once (28.3 mm).
    let repeated = imported.changes.repeated_mm;
    assert!((repeated - 88.3).abs() < 2.0, "{repeated}");
    // The first point of a branch lies on the end of its parent.
    for branch in &imported.branches[1..] {
        let parent = &imported.branches[branch.parent.unwrap()];
        let gap = (branch.points[0] - parent.points[parent.points.len() - 1]).norm();
        assert!(gap < 1e-9, "{}: {gap}", branch.name);
    }
    // 45 degrees from the trunk into the side branch. The branch begins on the trunk where the lines
    // are 0.2 mm apart, about 0.3 mm behind the corner, which takes up to 2.3 degrees off a chord of
    // 5 mm and half that off one of 10.
    let angle = take_off(&imported.branches, 1).unwrap().to_degrees();
    assert!((42.5..45.0).contains(&angle), "{angle}");
}

#[test]
fn the_inlet_part_is_cut_by_length_or_by_radius() {
    let mut lines = tips_to_root();
    for (_, line) in &mut lines {
        line.extend(straight([-0.5, 0.0, 0.0], [-20.0, 0.0, 0.0], (12.0, 12.0)));
    }
    let by_radius = ImportSettings {
        cut_radius_mm: Some(2.0),
        ..settings()
    };
    let by_length = ImportSettings {
        cut_mm: 20.0,
        ..settings()
    };
    for settings in [by_radius, by_length] {
        let imported = made(&lines, &settings).unwrap();
        assert_eq!(imported.branches.len(), 5);
        let start = imported.branches[0].points[0];
        assert!(start.norm() < 0.5, "{start}");
        assert!(imported.branches[0].radii[0] < 2.2);
        assert!(imported.changes.cut_mm > 19.0 && imported.changes.cut_points > 100);
    }
    let narrow = ImportSettings {
        cut_radius_mm: Some(0.1),
        ..settings()
    };
    let message = made(&lines, &narrow).unwrap_err().to_string();
    assert!(message.contains("never narrower"), "{message}");
}

#[test]
fn a_branch_that_begins_off_its_parent_is_led_onto_it() {
    let lines = vec![
        ("main", straight([0.0; 3], [40.0, 0.0, 0.0], (1.5, 1.2))),
        (
            "side",
            straight([20.0, 1.2, 0.0], [20.0, 30.0, 0.0], (0.9, 0.8)),
        ),
    ];
    let imported = made(&lines, &settings()).unwrap();
    assert_eq!(imported.branches.len(), 3);
    assert_eq!(imported.changes.joined, 1);
    assert!((imported.changes.largest_gap_mm - 1.2).abs() < 0.01);
    let names: Vec<&str> = imported.branches.iter().map(|b| b.name.as_str()).collect();
    assert_eq!(names, ["main", "side", "main-2"]);
    let side = &imported.branches[1];
    assert!((side.points[0] - Vector3::new(20.0, 0.0, 0.0)).norm() < 1e-9);
    let far = ImportSettings {
        join_mm: 1.0,
        join_lumens: false,
        ..settings()
    };
    let message = made(&lines, &far).unwrap_err().to_string();
    assert!(message.contains("from the rest"), "{message}");
}

#[test]
fn duplicates_and_stubs_are_dropped_and_counted() {
    let mut lines = tips_to_root();
    let again = lines[1].1.clone();
    lines.push(("4", again));
    lines.push((
        "5",
        straight([45.0, 0.0, 0.0], [45.0, 2.0, 0.0], (0.6, 0.6)),
    ));
    let imported = made(&lines, &settings()).unwrap();
    assert_eq!(imported.branches.len(), 5);
    assert_eq!(imported.changes.duplicates, 1);
    assert_eq!(imported.changes.stubs.len(), 1);
    assert!((imported.changes.stubs[0].1 - 2.0).abs() < 0.3);
}

#[test]
fn a_line_that_comes_back_is_a_loop() {
    let mut lines = tips_to_root();
    lines.push((
        "5",
        way(&[
            straight([35.0, 0.0, 0.0], [40.0, -8.0, 0.0], (0.6, 0.6)),
            straight([40.0, -8.0, 0.0], [50.0, -8.0, 0.0], (0.6, 0.6)),
            straight([50.0, -8.0, 0.0], [55.0, 0.0, 0.0], (0.6, 0.6)),
        ]),
    ));
    let error = made(&lines, &settings()).unwrap_err();
    assert!(error.to_string().contains("no loops"), "{error}");
}

#[test]
fn smoothing_takes_noise_away_and_keeps_bends_and_narrowings() {
    // An arc of 6 mm radius with noise of 0.1 mm and a narrowing of 6 mm length to half.
    let line: Vec<[f64; 4]> = (0..=240)
        .map(|i| {
            let s = 0.1 * f64::from(i);
            let a = s / 6.0;
            let noise = 0.1 * (7.3 * s).sin();
            let narrow = if (s - 12.0).abs() < 3.0 {
                0.375 * (1.0 + (std::f64::consts::PI * (s - 12.0) / 3.0).cos())
            } else {
                0.0
            };
            let rho = 6.0 + noise;
            [rho * a.sin(), 6.0 - rho * a.cos(), noise, 1.5 - narrow]
        })
        .collect();
    let imported = made(&vec![("arc", line)], &settings()).unwrap();
    let changes = &imported.changes;
    assert!(changes.tightest_before.0 < 1.5, "{changes:?}");
    assert!(
        (5.0..7.0).contains(&changes.tightest_after.0),
        "{changes:?}"
    );
    assert!(
        (0.08..0.2).contains(&changes.largest_shift.0),
        "{changes:?}"
    );
    assert!(changes.narrowest_mm.1 < 0.78, "{changes:?}");
}

#[test]
fn branches_are_named_by_table_by_tip_and_by_nearest_point() {
    let named = ImportSettings {
        names: vec![
            Naming {
                which: Which::Branch("branch-1".into()),
                name: "LM".into(),
                said: None,
            },
            Naming {
                which: Which::Tip(3),
                name: "LAD".into(),
                said: None,
            },
            Naming {
                which: Which::Near(Vector3::new(40.0, 11.0, 0.0)),
                name: "LCx".into(),
                said: None,
            },
        ],
        ..settings()
    };
    let imported = made(&tips_to_root(), &named).unwrap();
    let names: Vec<&str> = imported.branches.iter().map(|b| b.name.as_str()).collect();
    assert_eq!(names, ["LM", "LCx", "branch-1.1.1", "branch-1.1.2", "LAD"]);
    let (branch, place) = imported
        .find(&Which::Near(Vector3::new(60.0, 1.0, 0.0)))
        .unwrap();
    assert_eq!(branch.name, "LAD");
    let (station, distance) = place.unwrap();
    assert!((station - 30.0).abs() < 0.8 && (distance - 1.0).abs() < 0.01);
    let message = imported.find(&Which::Tip(9)).unwrap_err().to_string();
    assert!(message.contains("LAD (tip 3)"), "{message}");
}

/// The same lines in metres and in an image's frame give the same scene.
#[test]
fn units_and_frame_of_the_file_do_not_change_the_scene() {
    let scene = made(&tips_to_root(), &settings()).unwrap();
    let turned: Lines = tips_to_root()
        .into_iter()
        .map(|(name, line)| {
            // x left, y head, z front is x left, -y back, z head of the patient frame.
            let to = |[x, y, z, r]: [f64; 4]| [x, -z, y, r].map(|v| v / 1000.0);
            (name, line.into_iter().map(to).collect())
        })
        .collect();
    let lps = ImportSettings {
        units: Some(Unit::Metre),
        frame: Some(Frame::LeftPosteriorSuperior),
        ..ImportSettings::default()
    };
    let guessed = ImportSettings {
        units: None,
        ..lps.clone()
    };
    for settings in [lps, guessed] {
        let found = made(&turned, &settings).unwrap();
        assert_eq!(found.branches.len(), scene.branches.len());
        for (a, b) in found.branches.iter().zip(&scene.branches) {
            for (p, q) in a.points.iter().zip(&b.points) {
                assert!((p - q).norm() < 1e-9);
            }
        }
        assert_eq!(found.warnings.is_empty(), settings.units.is_some());
    }
}
