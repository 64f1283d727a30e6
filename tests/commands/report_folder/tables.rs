//! Tables and summary; the page is compared whole in `texts`.

use std::fs;

use bendwise::report::{CAUTION, Summary, WallMapRow, read_trace};
use bendwise::trial::result::{Outcome, TrialRow};

use crate::report_folder::invented::{RECORDED, TRIALS, folder, outline, pressed, setup, trial};

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
            "time_s",
            "beats",
            "peak_wall_force_mN",
            "peak_wall_force_leaving_guide_mN",
            "peak_wall_force_on_the_way_mN",
            "peak_wall_force_at_mouth_mN",
            "peak_wall_force_beyond_mN",
            "peak_tip_force_mN",
            "peak_tip_force_backward_mN",
            "peak_tip_force_forward_mN",
            "peak_push_force_mN",
            "peak_pull_force_mN",
            "peak_push_or_pull_mN",
            "peak_torque_mN_mm",
            "peak_torque_forward_mN_mm",
            "peak_torque_backward_mN_mm",
            "peak_wall_deflection_mm",
            "peak_strain_ratio",
            "peak_axial_strain",
            "peak_friction_ratio",
            "peak_vessel_moved_mm",
            "peak_vessel_straightened_deg",
            "peak_vessel_compression",
            "vessel_folds",
            "set_deg",
            "set_from_tip_mm",
            "catheter_fed_mm",
            "catheter_turned_deg",
            "peak_catheter_wall_force_mN",
            "peak_turning_wall_force_mN",
            "peak_catheter_push_force_mN",
            "peak_catheter_pull_force_mN",
            "peak_catheter_push_or_pull_mN",
            "peak_catheter_torque_mN_mm",
            "peak_catheter_torque_forward_mN_mm",
            "peak_catheter_torque_backward_mN_mm",
            "catheter_followed",
            "roll_deg",
            "friction",
            "diameter_factor",
            "bend_factor",
            "steps",
            "newton_iterations",
            "note",
            "reason",
            "why",
        ]
    );
    let rows: Vec<TrialRow> = reader.deserialize().map(Result::unwrap).collect();
    let expected: Vec<TrialRow> = (0..setup().strategies.len())
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
        "fed_mm,time_s,tip_x_mm,tip_y_mm,tip_z_mm,push_force_mN,torque_mN_mm,tip_force_mN,\
         wall_force_total_mN,wall_force_max_mN,bending_energy_mN_mm,twist_base_deg,twist_tip_deg,\
         wall_force_leaving_guide_mN,wall_force_on_the_way_mN,wall_force_at_mouth_mN,\
         wall_force_beyond_mN,wall_deflection_max_mm,strain_ratio,axial_strain,friction_ratio,\
         vessel_moved_mm,vessel_straightened_deg,vessel_compression,\
         catheter_wall_force_max_mN,catheter_push_force_mN,catheter_torque_mN_mm"
    );
    assert_eq!(read_trace(&path).unwrap(), trial(3, 1).trace);
    let count = fs::read_dir(folder().join("traces")).unwrap().count();
    assert_eq!(count, 6 * RECORDED as usize);
}

/// Slow twin: for every row all trials of its strategy are asked for that millimetre of that branch.
#[test]
fn the_map_of_wall_forces_has_a_row_for_every_millimetre_that_was_pressed() {
    let path = folder().join("wall-force-map.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let rows: Vec<WallMapRow> = reader.deserialize().map(Result::unwrap).collect();
    let branches: Vec<String> = outline().branches.into_iter().map(|b| b.name).collect();
    let setup = setup();
    let same = |a: f64, b: f64| a.to_bits() == b.to_bits();
    let mut counted = 0;
    for row in &rows {
        let strategy = setup.strategies.iter().position(|s| s.name == row.strategy);
        let branch = branches.iter().position(|b| *b == row.branch);
        let mut forces: Vec<f64> = (0..TRIALS)
            .flat_map(|trial| pressed(strategy.unwrap(), trial))
            .filter(|p| p.branch == branch.unwrap() && same(f64::from(p.stretch), row.from_mm))
            .map(|p| p.force_mn)
            .collect();
        forces.sort_by(f64::total_cmp);
        assert!(same(row.to_mm, row.from_mm + 1.0));
        assert_eq!(row.trials as usize, forces.len());
        assert!(same(row.largest_mn, forces[forces.len() - 1]));
        let middle = 0.5 * (forces[(forces.len() - 1) / 2] + forces[forces.len() / 2]);
        assert!((row.median_mn - middle).abs() < 1e-12 * middle);
        counted += forces.len();
    }
    let all = (0..setup.strategies.len()).flat_map(|s| (0..TRIALS).map(move |t| pressed(s, t)));
    assert_eq!(counted, all.map(|p| p.len()).sum::<usize>());
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
