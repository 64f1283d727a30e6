//! Points of unlike cost, dealt to shares by measured trials.
#![allow(
    clippy::print_stdout,
    reason = "how far the shares are from each other is what it is run for"
)]

use std::collections::BTreeMap;

use bendwise::study::sweep::ArrayPlan;

use super::{bendwise, folder_of, text};
use crate::sweep_command::SHORT;

/// Way to the branch from 3 to 130 mm: trials cost from 1 to about 20.
const UNLIKE: &str = r#"name = "unlike"
description = "Ways of unlike length."
scenario = "long.toml"

[design]
kind = "sobol"
points = 400
trials = 2

[[parameter]]
path = "vessel.branch.side.at_mm"
name = "way"
distribution = "uniform"
low = 3
high = 130
"#;

/// `cargo test --release --test commands shares_of_unlike -- --ignored --nocapture`. What a share takes is
/// told by the Newton iterations of its trials, so that a busy machine does not decide.
#[test]
#[ignore = "a minute or two of trials"]
fn shares_of_unlike_points_take_the_same_within_15_percent() {
    const SHARES: usize = 4;
    let long = SHORT
        .replace("length_mm = 25 }", "length_mm = 150 }")
        .replace("max_fed_mm = 30", "max_fed_mm = 160");
    let folder = folder_of(&[("long.toml", &long), ("sweep.toml", UNLIKE)]);
    let array = [
        "sweep",
        "sweep.toml",
        "--array",
        "4",
        "--out",
        "array",
        "--measure",
        "10",
    ];
    bendwise(&folder, &array).assert().success();
    for number in 1..=SHARES {
        let words = ["share", "array", &number.to_string(), "--quiet"];
        bendwise(&folder, &words).assert().success();
    }
    let gather = ["gather", "array", "--out", "joined", "--quiet"];
    bendwise(&folder, &gather).assert().success();

    let plan = ArrayPlan::read(&folder.path().join("array"));
    let deal = plan.unwrap().unwrap().deal;
    let share_of = |point: usize| deal.share_of(point).unwrap() - 1;
    let trials = text(&folder, "joined/trials.csv");
    let mut rows = csv::Reader::from_reader(trials.as_bytes());
    let mut loads = [0.0; SHARES];
    let mut of_points: BTreeMap<usize, f64> = BTreeMap::new();
    for row in rows.deserialize::<BTreeMap<String, String>>() {
        let row = row.unwrap();
        let point: usize = row["point"].parse().unwrap();
        let iterations: f64 = row["newton_iterations"].parse().unwrap();
        loads[share_of(point)] += iterations;
        *of_points.entry(point).or_default() += iterations;
    }
    let range = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::MAX, 0.0_f64), |(least, most), value| {
            (least.min(value), most.max(value))
        })
    };
    let (cheapest, dearest) = range(&mut of_points.values().copied());
    let (least, most) = range(&mut loads.iter().copied());
    println!(
        "points: {:.1}-fold; shares: within {:.1} %",
        dearest / cheapest,
        100.0 * (most / least - 1.0)
    );
    assert!(dearest > 15.0 * cheapest, "points are too much alike");
    assert!(most < 1.15 * least, "{loads:?}");
}
