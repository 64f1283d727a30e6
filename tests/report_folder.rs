//! Is everything that a study leaves in its folder there, whole and readable by others?
#![allow(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    reason = "a failed test may panic; numbers here are small"
)]

use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::sync::atomic::AtomicBool;

use approx::assert_abs_diff_eq;
use nalgebra::Vector3;
use vtkio::model::{DataSet, Piece, VertexNumbers, Vtk};

use bendwise::report::{
    CAUTION, OutlineBranch, OutlinePoint, SceneOutline, StudyWriter, Summary, read_trace, read_wire,
};
use bendwise::study::{Plan, StrategyLabel, StudyOptions, run_batch};
use bendwise::trial::result::{Outcome, TraceRow, TrialRecord, TrialRow, WireShape};

const TRIALS: u32 = 32;
const RECORDED: u32 = 2;
const WIRES: [&str; 3] = [
    "soft 0.3 gf",
    "medium 1 gf",
    "stiff 3 gf, hydrophilic surface",
];
const TECHNIQUES: [&str; 2] = ["push", "redirect"];

/// Invented: a bent main vessel, a side branch and a second one further on.
fn outline() -> SceneOutline {
    let arc = |s: f64| Vector3::new(40.0 * (s / 40.0).sin(), 0.1 * s, 40.0 * (s / 40.0).cos());
    let branch = |name: &str, length: f64, radius: (f64, f64), at: &dyn Fn(f64) -> Vector3<f64>| {
        let points = (0..=80).map(|i| {
            let s = f64::from(i) / 80.0;
            OutlinePoint {
                position_mm: at(s * length),
                radius_mm: radius.0 + s * (radius.1 - radius.0),
            }
        });
        OutlineBranch {
            name: name.to_owned(),
            points: points.collect(),
        }
    };
    let side = |s: f64| arc(30.0) + Vector3::new(0.35 * s, 0.6 * s, 0.7 * s - 0.012 * s * s);
    let second = |s: f64| arc(48.0) + Vector3::new(0.9 * s, -0.35 * s, 0.1 * s);
    SceneOutline {
        branches: vec![
            branch("main", 70.0, (2.0, 1.3), &arc),
            branch("side", 26.0, (1.2, 0.9), &side),
            branch("second", 18.0, (0.9, 0.8), &second),
        ],
        target: "side".to_owned(),
        guide_end_mm: arc(8.0),
        guide_direction: Vector3::new(0.98, 0.1, -0.2).normalize(),
    }
}

fn plan() -> Plan {
    let label = |technique: &str, wire: &str| StrategyLabel {
        name: format!("{technique} {wire}"),
        slug: format!("{technique}-{}", wire.replace([' ', '.', ','], "-")),
        technique: technique.to_owned(),
        wire: wire.to_owned(),
    };
    let all = TECHNIQUES
        .iter()
        .flat_map(|t| WIRES.iter().map(|w| label(t, w)));
    Plan {
        scenario: "invented-side-branch".to_owned(),
        origin: "invented".to_owned(),
        content_hash: "0123456789abcdef".to_owned(),
        seed: 1,
        trials: TRIALS,
        recorded: RECORDED,
        strategies: all.collect(),
    }
}

fn writer() -> StudyWriter {
    StudyWriter {
        outline: outline(),
        wires: WIRES.map(|w| (w.to_owned(), 0.36)).to_vec(),
    }
}

/// Length of wire outside the guide at recorded step `i` of a trial that goes to and fro.
fn fed(technique: usize, i: u32) -> f64 {
    let x = f64::from(i) * 0.5;
    if technique == 0 || x < 40.0 {
        x.min(52.0)
    } else if x < 56.0 {
        40.0 - (x - 40.0)
    } else {
        24.0 + (x - 56.0)
    }
}

/// The wire along the main vessel, off its axis, and in `side` into the side branch.
fn shape(fed_mm: f64, side: bool, off: f64) -> WireShape {
    let outline = outline();
    let along = |branch: usize, s: f64, length: f64| {
        let points = &outline.branches[branch].points;
        let x = (s / length * 80.0).clamp(0.0, 79.999);
        let i = x as usize;
        points[i]
            .position_mm
            .lerp(&points[i + 1].position_mm, x - i as f64)
    };
    let count = (fed_mm / 0.4) as usize + 2;
    let nodes_mm: Vec<Vector3<f64>> = (0..count)
        .map(|k| {
            let s = fed_mm * k as f64 / (count - 1) as f64;
            let wobble = Vector3::new(0.0, off * (s / 5.0).sin(), off * (s / 7.0).cos());
            if side && s > 22.0 {
                along(1, s - 22.0, 26.0) + wobble * 0.7
            } else {
                along(0, 8.0 + s, 70.0) + wobble
            }
        })
        .collect();
    WireShape {
        fed_mm,
        wall_force_mn: (0..count)
            .map(|k| (k as f64 / 3.0).sin().abs() / 7.0)
            .collect(),
        curvature_per_mm: (0..count).map(|k| 1.0 / (1.0 + k as f64)).collect(),
        nodes_mm,
    }
}

fn trial(strategy: usize, trial: u32) -> TrialRecord {
    let (technique, wire) = (strategy / WIRES.len(), strategy % WIRES.len());
    let stiff = [1.0, 2.2, 4.5][wire];
    let chance = (trial * 7 + strategy as u32 * 5) % 32;
    let outcome = if chance < [9, 14, 5][wire] + 12 * technique as u32 {
        Outcome::Reached
    } else {
        Outcome::ALL[1 + (chance as usize + wire) % 6]
    };
    let (mut trace, mut shapes) = (Vec::new(), Vec::new());
    if trial < RECORDED {
        for i in 0..(if technique == 0 { 100 } else { 170 }) {
            let fed_mm = fed(technique, i);
            let side = technique == 1 && i >= 112;
            let whole = shape(fed_mm, side, 0.3 + 0.3 * f64::from(trial));
            let tip = whole.nodes_mm[whole.nodes_mm.len() - 1];
            let ripple = (f64::from(i) / 4.0 + f64::from(trial)).sin();
            let push = stiff * (fed_mm / 6.0 + 1.5 * ripple);
            let sign = if technique == 1 && (80..112).contains(&i) {
                -0.4
            } else {
                1.0
            };
            trace.push(TraceRow {
                fed_mm,
                tip_x_mm: tip.x,
                tip_y_mm: tip.y,
                tip_z_mm: tip.z,
                push_force_mN: sign * push,
                torque_mN_mm: 0.1 * push,
                tip_force_mN: 0.3 * push,
                wall_force_total_mN: 3.0 * push.abs(),
                wall_force_max_mN: 0.7 * push.abs() + ripple.abs(),
                bending_energy_mN_mm: fed_mm,
                twist_base_deg: 0.0,
                twist_tip_deg: 0.0,
            });
            if i % 4 == 3 {
                shapes.push(whole);
            }
        }
    }
    let x = f64::from(trial) / 32.0;
    let row = TrialRow {
        strategy: plan().strategies[strategy].name.clone(),
        trial,
        outcome,
        tip_branch: "main".to_owned(),
        attempts: 1 + trial % 3,
        fed_mm: 50.0 + x,
        travel_mm: 70.0 + x,
        turned_deg: 90.0 * x,
        peak_wall_force_mn: stiff * (4.0 + x),
        peak_tip_force_mn: stiff * (1.0 + x),
        peak_push_force_mn: stiff * (8.0 + x),
        peak_torque_mn_mm: stiff * x,
        peak_wall_deflection_mm: 0.02 * stiff,
        peak_strain_ratio: 0.3,
        peak_axial_strain: 1e-4,
        roll_deg: 360.0 * x,
        friction: 0.05,
        diameter_factor: 1.0,
        bend_factor: 1.0,
        steps: 400,
        newton_iterations: 2200,
        note: String::new(),
    };
    TrialRecord { row, trace, shapes }
}

/// The folder of one whole study, made once for all tests here.
fn folder() -> &'static Path {
    static FOLDER: OnceLock<tempfile::TempDir> = OnceLock::new();
    static OUT: OnceLock<PathBuf> = OnceLock::new();
    OUT.get_or_init(|| {
        let place = FOLDER.get_or_init(|| tempfile::tempdir().unwrap());
        let out = place.path().join("study");
        make(&out, 2, None);
        out
    })
}

fn make(out: &Path, threads: usize, limit: Option<usize>) {
    let options = StudyOptions {
        out: out.to_owned(),
        threads: Some(threads),
        quiet: true,
        limit,
        ..StudyOptions::default()
    };
    run_batch(&plan(), &options, &AtomicBool::new(false), trial, &writer()).unwrap();
}

fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let bytes = fs::read(&path).unwrap();
                all.insert(path.strip_prefix(folder).unwrap().to_owned(), bytes);
            }
        }
    }
    all
}

#[test]
fn a_study_in_two_halves_on_one_thread_leaves_the_same_bytes_in_every_file() {
    let place = tempfile::tempdir().unwrap();
    let out = place.path().join("halves");
    make(&out, 1, Some(90));
    assert!(!out.exists());
    make(&out, 1, None);
    let (halves, whole) = (files(&out), files(folder()));
    assert_eq!(
        halves.keys().collect::<Vec<_>>(),
        whole.keys().collect::<Vec<_>>()
    );
    for (path, bytes) in &whole {
        assert!(halves[path] == *bytes, "{} differs", path.display());
    }
}

#[test]
fn trials_csv_has_the_documented_columns_and_a_row_a_trial() {
    let mut reader = csv::Reader::from_path(folder().join("trials.csv")).unwrap();
    let columns: Vec<String> = reader
        .headers()
        .unwrap()
        .iter()
        .map(str::to_owned)
        .collect();
    assert_eq!(
        columns,
        [
            "strategy",
            "trial",
            "outcome",
            "tip_branch",
            "attempts",
            "fed_mm",
            "travel_mm",
            "turned_deg",
            "peak_wall_force_mN",
            "peak_tip_force_mN",
            "peak_push_force_mN",
            "peak_torque_mN_mm",
            "peak_wall_deflection_mm",
            "peak_strain_ratio",
            "peak_axial_strain",
            "roll_deg",
            "friction",
            "diameter_factor",
            "bend_factor",
            "steps",
            "newton_iterations",
            "note",
        ]
    );
    let rows: Vec<TrialRow> = reader.deserialize().map(Result::unwrap).collect();
    let expected: Vec<TrialRow> = (0..plan().strategies.len())
        .flat_map(|s| (0..TRIALS).map(move |t| trial(s, t).row))
        .collect();
    assert_eq!(rows, expected);
}

#[test]
fn a_trace_has_the_documented_columns_and_reads_back() {
    let path = folder().join("traces").join("redirect-soft-0-3-gf-1.csv");
    let text = fs::read_to_string(&path).unwrap();
    assert_eq!(
        text.lines().next().unwrap(),
        "fed_mm,tip_x_mm,tip_y_mm,tip_z_mm,push_force_mN,torque_mN_mm,tip_force_mN,\
         wall_force_total_mN,wall_force_max_mN,bending_energy_mN_mm,twist_base_deg,twist_tip_deg"
    );
    assert_eq!(read_trace(&path).unwrap(), trial(3, 1).trace);
    let count = fs::read_dir(folder().join("traces")).unwrap().count();
    assert_eq!(count, 6 * RECORDED as usize);
}

#[test]
fn summary_json_counts_every_outcome_and_compares_every_pair() {
    let text = fs::read_to_string(folder().join("summary.json")).unwrap();
    let summary: Summary = serde_json::from_str(&text).unwrap();
    assert_eq!(summary.caution, CAUTION);
    assert_eq!(summary.strategies.len(), 6);
    assert_eq!(summary.comparisons.len(), 15);
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    for (index, strategy) in json["strategies"].as_array().unwrap().iter().enumerate() {
        let counts = strategy["outcomes"].as_object().unwrap();
        assert_eq!(counts.len(), Outcome::ALL.len());
        for outcome in Outcome::ALL {
            let expected = (0..TRIALS).filter(|&t| trial(index, t).row.outcome == outcome);
            assert_eq!(counts[outcome.key()], expected.count());
        }
        assert_eq!(strategy["reached"], counts["reached"]);
        for field in ["peak_wall_force_mN", "peak_push_force_mN"] {
            assert!(strategy[field]["median"].as_f64() < strategy[field]["p95"].as_f64());
        }
        assert!(strategy["ci95"][0].as_f64() < strategy["rate"].as_f64());
        assert_eq!(strategy["newton_iterations_per_step"], 5.5);
        assert_eq!(strategy["attempts"]["median"], 2.0);
    }
    for pair in &summary.comparisons {
        let all = pair.both + pair.only_first + pair.only_second + pair.neither;
        assert_eq!((all, pair.trials), (TRIALS, TRIALS));
    }
}

#[test]
fn shapes_read_back_as_they_were() {
    let shapes = folder().join("shapes").join("push-soft-0-3-gf-0");
    let expected = trial(0, 0).shapes;
    let collection = fs::read_to_string(shapes.join("wire.pvd")).unwrap();
    assert_eq!(collection.matches("<DataSet ").count(), expected.len());
    for (step, shape) in expected.iter().enumerate() {
        let file = format!("wire-{step:04}.vtp");
        assert!(collection.contains(&format!("file=\"{file}\"")));
        let read = read_wire(&shapes.join(file)).unwrap();
        assert_eq!(read.nodes_mm.len(), shape.nodes_mm.len());
        assert_abs_diff_eq!(read.fed_mm, shape.fed_mm, epsilon = 1e-9);
        for i in 0..shape.nodes_mm.len() {
            assert_abs_diff_eq!(read.nodes_mm[i], shape.nodes_mm[i], epsilon = 1e-9);
            assert_abs_diff_eq!(
                read.wall_force_mn[i],
                shape.wall_force_mn[i],
                epsilon = 1e-9
            );
            let (curvature, expected) = (read.curvature_per_mm[i], shape.curvature_per_mm[i]);
            assert_abs_diff_eq!(curvature, expected, epsilon = 1e-9);
        }
    }
}

/// The volume inside a closed tube of rings is close to that of its cones; here the open tube's
/// area is compared: every ring of 24 corners lies on the lumen, so the area of the side is
/// within 2 % of the tubes' 2 pi r times length.
#[test]
fn the_vessel_is_a_surface_on_the_lumen() {
    let vtk = Vtk::import(folder().join("vessel.vtp")).unwrap();
    let DataSet::PolyData { pieces, .. } = vtk.data else {
        panic!("not polygonal data");
    };
    let Some(Piece::Inline(piece)) = pieces.into_iter().next() else {
        panic!("no piece");
    };
    let points: Vec<f64> = piece.points.into_vec().unwrap();
    let at = |i: u64| Vector3::from_column_slice(&points[3 * i as usize..3 * i as usize + 3]);
    let Some(VertexNumbers::XML { connectivity, .. }) = piece.polys else {
        panic!("no triangles");
    };
    let area: f64 = connectivity
        .chunks_exact(3)
        .map(|t| 0.5 * (at(t[1]) - at(t[0])).cross(&(at(t[2]) - at(t[0]))).norm())
        .sum();
    let expected: f64 = outline()
        .branches
        .iter()
        .flat_map(|b| {
            b.points
                .windows(2)
                .map(|w| (w[0], w[1]))
                .collect::<Vec<_>>()
        })
        .map(|(a, b)| PI * (a.radius_mm + b.radius_mm) * (b.position_mm - a.position_mm).norm())
        .sum();
    assert!((area / expected - 1.0).abs() < 0.02, "{area} {expected}");
}

/// Width and height in the first chunk of a PNG file.
fn png_size(bytes: &[u8]) -> (u32, u32) {
    assert_eq!(&bytes[..8], b"\x89PNG\r\n\x1a\n");
    let number = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap());
    (number(16), number(20))
}

#[test]
fn every_figure_is_there_as_png_and_svg_of_the_same_size() {
    let figures = folder().join("figures");
    let names = [
        "success-rate",
        "outcomes",
        "forces",
        "scene",
        "scene-push-soft-0-3-gf",
    ];
    for name in names {
        let png = fs::read(figures.join(format!("{name}.png"))).unwrap();
        let svg = fs::read_to_string(figures.join(format!("{name}.svg"))).unwrap();
        let (width, height) = png_size(&png);
        assert!(width >= 900 && height >= 200, "{name}: {width} x {height}");
        assert!(
            svg.contains(&format!("width=\"{width}\" height=\"{height}\"")),
            "{name}"
        );
        assert!(svg.contains("(mm)") || svg.contains("(%)") || svg.contains("(mN)"));
        assert!(svg.trim_end().ends_with("</svg>"));
    }
    assert_eq!(fs::read_dir(&figures).unwrap().count(), 2 * (4 + 6));
}

#[test]
fn the_page_names_every_strategy_and_carries_the_caution_once() {
    let page = fs::read_to_string(folder().join("report.md")).unwrap();
    assert_eq!(page.matches(CAUTION).count(), 1);
    for strategy in plan().strategies {
        assert!(page.contains(&format!("| {} |", strategy.name)));
    }
}

/// Keeps the folder for looking at: `cargo test --test report_folder -- --ignored`.
#[test]
#[ignore = "writes into the build folder for looking at"]
fn leave_a_folder_to_look_at() {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("report-to-look-at");
    let _ = fs::remove_dir_all(&out);
    make(&out, 2, None);
}
