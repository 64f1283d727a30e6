//! Film strips of real trials: six moments each, said in the sums of what the hands did.

use std::fs;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use approx::assert_abs_diff_eq;
use bendwise::report::{Setting, read_hands, read_trace, sinks};
use bendwise::scenario::load;
use bendwise::study::{Part, StrategyLabel, StudyOptions, StudySetup, Task, run_study};
use bendwise::trial::{Prepared, run_trial, strategies};

use crate::sweep_common::Seen;

/// Texts of an SVG in the order in which they were drawn.
fn texts(svg: &str) -> Vec<&str> {
    let parts = svg.split("<text").skip(1);
    parts
        .filter_map(|part| {
            let from = part.find('>')? + 1;
            let to = part.find("</text>")?;
            Some(part[from..to].trim())
        })
        .collect()
}

#[test]
fn every_technique_gets_a_film_of_six_moments_that_agrees_with_its_trial() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/angle-phantom.toml");
    let loaded = load(&path).unwrap();
    let mut scenario = loaded.scenario;
    scenario.wires.truncate(1);
    let kept = ["redirect", "looped-back, round", "balloon"];
    scenario
        .techniques
        .retain(|t| kept.contains(&t.name.as_str()));
    (scenario.study.trials, scenario.study.recorded) = (2, 1);
    let prepared = Prepared::new(&scenario).unwrap();
    let all = strategies(&scenario);
    let labels = all.iter().map(|s| StrategyLabel {
        name: s.name.clone(),
        slug: s.slug.clone(),
        technique: scenario.techniques[s.technique].name.clone(),
        wire: scenario.wires[s.wire].name.clone(),
    });
    let setup = StudySetup::of_scenario(&scenario, "of a test", labels.collect());
    let part = Part::whole(setup);
    let place = tempfile::tempdir().unwrap();
    let out = place.path().join("study");
    let options = StudyOptions {
        out: out.clone(),
        quiet: true,
        ..StudyOptions::default()
    };
    let compute =
        |task: Task, recorded| run_trial(&prepared, &all[task.strategy], task.trial, recorded);
    let seen = Seen::default();
    let mut sinks = sinks(Setting::new(&prepared, None));
    sinks.extend(seen.sinks());
    let stop = AtomicBool::new(false);
    run_study(&part, &options, &stop, &|_| Ok(Box::new(&compute)), sinks).unwrap();
    let (_, _, rows) = &seen.points()[0];
    for (label, rows) in part.setup.strategies.iter().zip(rows) {
        let file = out.join("figures").join(format!("film-{}.svg", label.slug));
        let svg = fs::read_to_string(&file).unwrap();
        let texts = texts(&svg);
        for number in 1..=6 {
            let begin = format!("{number}  ");
            let found = texts.iter().any(|text| text.starts_with(&begin));
            assert!(found, "{}: no frame {number} in {texts:?}", label.slug);
        }
        let subtitle = texts
            .iter()
            .find(|text| text.contains("the middle one"))
            .unwrap();
        let shown = rows
            .iter()
            .find(|row| subtitle.contains(&format!("trial {},", row.trial)));
        let shown = shown.unwrap();
        let end = format!("6  End: {}", shown.outcome.label());
        assert!(texts.contains(&end.as_str()), "{end} not in {texts:?}");
        let reached = rows.iter().any(|row| row.outcome.key() == "reached");
        assert_eq!(reached, shown.outcome.key() == "reached");

        let name = format!("{}-{}.csv", label.slug, shown.trial);
        let hands = read_hands(&out.join("hands").join(&name)).unwrap();
        let trace = read_trace(&out.join("traces").join(&name)).unwrap();
        assert_eq!(hands.len(), trace.len());
        let (last, step) = (&hands[hands.len() - 1], &trace[trace.len() - 1]);
        assert_abs_diff_eq!(
            last.fed_sum_mm + last.withdrawn_mm,
            shown.travel_mm,
            epsilon = 1e-6
        );
        assert_abs_diff_eq!(last.turned_deg, shown.turned_deg, epsilon = 1e-6);
        assert_abs_diff_eq!(step.outside_mm, shown.outside_mm, epsilon = 1e-6);
        assert_eq!(last.attempt, shown.attempts);
    }
}
