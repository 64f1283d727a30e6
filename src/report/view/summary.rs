//! `summary.json` of a look at a scene.

use serde::Serialize;

use crate::projection::{BOTH_LIMIT, MeasuredView, Measures, PUBLISHED};
use crate::report::CAUTION;
use crate::scenario::view::ReachSpec;
use crate::study::paired::{PairedDifference, paired_difference};
use crate::study::{StrategySummary, StudySetup, summarise};
use crate::trial::result::TrialRow;
use crate::trial::{CourseReading, Examined, PointReading, ViewRun, ViewStudy, WorkedView};
use crate::vessel::Tree;

/// What `summary.json` holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ViewSummary {
    /// Version of the program.
    #[serde(rename = "bendwise")]
    pub bendwise_version: String,
    /// Name of the scenario.
    pub scenario: String,
    /// Where the scenario's anatomy comes from.
    pub origin: String,
    /// Hash of what the scenario says.
    pub content_hash: String,
    /// Seed of the random draws.
    pub seed: u64,
    /// Trials of each run.
    pub trials: u32,
    /// The caution.
    pub caution: String,
    /// What the C-arm can reach, in degrees: least and largest primary angle, least and largest
    /// secondary angle, largest sum with the signs left away.
    pub reach_deg: [f64; 5],
    /// Length of parent, main and branch that counts, in mm.
    pub near_mm: f64,
    /// The places.
    pub places: Vec<PlaceSummary>,
}

/// A view with its measures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ViewLine {
    /// What the view is.
    pub what: String,
    /// As people write it.
    pub view: String,
    /// Primary angle in degrees, positive LAO.
    pub primary_deg: f64,
    /// Secondary angle in degrees, positive cranial.
    pub secondary_deg: f64,
    /// Whether the C-arm can reach it.
    pub reachable: bool,
    /// The measures.
    pub measures: Measures,
    /// Their sum by which views are chosen; small is good.
    pub cost: f64,
}

/// A point read in two views.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadPoint {
    /// Where it is, in mm, in the scene.
    pub true_mm: [f64; 3],
    /// Where it is believed to be.
    pub believed_mm: [f64; 3],
    /// Where the readings put it.
    pub read_mm: [f64; 3],
    /// Distance of the reading from the true point in mm.
    pub error_mm: f64,
    /// Root mean square of that to be expected, in mm.
    pub expected_error_mm: f64,
    /// Distance of the reading from the believed point in mm.
    pub off_belief_mm: f64,
    /// How far the two lines of sight pass from each other in mm.
    pub gap_mm: f64,
}

/// The course of a branch from two views.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CourseLine {
    /// The two views.
    pub views: [String; 2],
    /// Angle between them in degrees.
    pub angle_deg: f64,
    /// Standard deviation of a reading in mm.
    pub reading_sd_mm: f64,
    /// The ostium.
    pub ostium: ReadPoint,
    /// A point beyond it.
    pub beyond: ReadPoint,
    /// Distance of the believed from the true point beyond the ostium in the current view, in mm.
    pub seen_off_in_current_view_mm: f64,
    /// Whether something wrong is believed of the branch.
    pub believed_elsewhere: bool,
    /// Whether the readings show that it does not run where it is believed to.
    pub revealed: bool,
}

/// What the view costs with one wire.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CostLine {
    /// The wire.
    pub wire: String,
    /// Current, recommended and, where there is one, corrected.
    pub runs: Vec<StrategySummary>,
    /// Mean attempts of each.
    pub mean_attempts: Vec<f64>,
    /// Each of the others against the current view.
    pub against_current: Vec<PairedDifference>,
}

/// One place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceSummary {
    /// Name.
    pub name: String,
    /// Name in file names.
    pub slug: String,
    /// Turn that a wire must make between the chords of parent and branch, in degrees.
    pub take_off_deg: Option<f64>,
    /// The views: current, recommended, best of all, second, both daughters.
    pub views: Vec<ViewLine>,
    /// The customary views, the best first.
    pub customary: Vec<ViewLine>,
    /// Angle between recommended and second view in degrees.
    pub second_angle_deg: f64,
    /// Whether a reachable view shows both daughters within `both_limit`; `None` for a stretch.
    pub shows_both: Option<bool>,
    /// The limit.
    pub both_limit: f64,
    /// What others have published on such a branching, as context.
    pub published: Option<String>,
    /// The course from two views.
    pub course: Option<CourseLine>,
    /// What the view costs, wire by wire.
    pub cost: Vec<CostLine>,
    /// Why nothing is said on that, if nothing is.
    pub without_runs: Option<String>,
}

/// Sums up a look at a scene; `rows` holds a list for each run.
#[must_use]
pub fn view_summary(
    study: &ViewStudy,
    tree: &Tree,
    setup: &StudySetup,
    rows: &[Vec<TrialRow>],
) -> ViewSummary {
    let places = study.examined.iter().enumerate();
    ViewSummary {
        bendwise_version: env!("CARGO_PKG_VERSION").to_owned(),
        scenario: setup.scenario.clone(),
        origin: setup.origin.clone(),
        content_hash: setup.content_hash.clone(),
        seed: setup.seed,
        trials: setup.trials,
        caution: CAUTION.to_owned(),
        reach_deg: reach(&study.c_arm.reach),
        near_mm: study.spec.near_mm,
        places: places
            .map(|(index, place)| {
                let cost = costs(study, index, setup, rows);
                summary(place, tree, &study.spec.beliefs, cost)
            })
            .collect(),
    }
}

fn reach(reach: &ReachSpec) -> [f64; 5] {
    let ([a, b], [c, d]) = (reach.primary_rad, reach.secondary_rad);
    // Whole degrees were turned into rad and come back with an error in the last digit.
    [a, b, c, d, reach.combined_rad].map(|rad| (1e6 * rad.to_degrees()).round() / 1e6)
}

fn summary(
    place: &Examined,
    tree: &Tree,
    beliefs: &[crate::scenario::view::BeliefSpec],
    cost: Vec<CostLine>,
) -> PlaceSummary {
    let (site, answer) = (&place.site, &place.answer);
    let branch = &tree.branches()[site.branch];
    let parent = branch.parent.map(|(p, _)| tree.branches()[p].name.as_str());
    let published = site.mouth.and(parent).and_then(|parent| {
        let known = (parent, branch.name.as_str());
        let found = PUBLISHED.iter().find(|p| p.branching == known)?;
        Some(found.finding.to_owned())
    });
    let mut views = vec![
        line("current", &answer.current),
        line("recommended", &answer.recommended),
        line("best of all directions, within reach or not", &answer.best),
        line("second view", &answer.second.0),
    ];
    views.extend(answer.both.iter().map(|v| line("both daughters", v)));
    PlaceSummary {
        name: site.name.clone(),
        slug: site.slug.clone(),
        take_off_deg: site
            .mouth
            .map(|m| m.parent_chord.angle(&m.branch_chord).to_degrees()),
        views,
        customary: answer
            .customary
            .iter()
            .map(|(c, v)| line(c.name, v))
            .collect(),
        second_angle_deg: answer.second.1.to_degrees(),
        shows_both: answer.both.map(|_| answer.shows_both()),
        both_limit: BOTH_LIMIT,
        published,
        course: place.course.as_ref().map(|c| {
            let elsewhere = beliefs.iter().any(|b| b.branch == branch.name);
            course(c, elsewhere)
        }),
        cost,
        without_runs: place.without_runs.clone(),
    }
}

fn line(what: &str, view: &MeasuredView) -> ViewLine {
    ViewLine {
        what: what.to_owned(),
        view: view.view.to_string(),
        primary_deg: view.view.primary_deg(),
        secondary_deg: view.view.secondary_deg(),
        reachable: view.reachable,
        measures: view.measures,
        cost: view.measures.cost(),
    }
}

fn course(course: &CourseReading, believed_elsewhere: bool) -> CourseLine {
    CourseLine {
        views: course.views.map(|v| v.to_string()),
        angle_deg: course.angle_rad.to_degrees(),
        reading_sd_mm: course.reading_sd_mm,
        ostium: point(&course.ostium),
        beyond: point(&course.beyond),
        seen_off_in_current_view_mm: course.seen_off_mm,
        believed_elsewhere,
        revealed: course.revealed,
    }
}

fn point(reading: &PointReading) -> ReadPoint {
    ReadPoint {
        true_mm: reading.true_mm.into(),
        believed_mm: reading.believed_mm.into(),
        read_mm: reading.read.position.into(),
        error_mm: reading.error_mm(),
        expected_error_mm: reading.expected_error_mm,
        off_belief_mm: reading.off_belief_mm(),
        gap_mm: reading.read.gap_mm,
    }
}

/// The runs of one place, wire by wire.
fn costs(
    study: &ViewStudy,
    place: usize,
    setup: &StudySetup,
    rows: &[Vec<TrialRow>],
) -> Vec<CostLine> {
    let mut lines: Vec<CostLine> = Vec::new();
    let mut first: &[TrialRow] = &[];
    let runs = study.runs.iter().zip(&setup.strategies).zip(rows);
    for ((ViewRun { worked, .. }, label), rows) in runs.filter(|((run, ..), _)| run.site == place) {
        if *worked == WorkedView::Current {
            first = rows;
            lines.push(CostLine {
                wire: label.wire.clone(),
                runs: Vec::new(),
                mean_attempts: Vec::new(),
                against_current: Vec::new(),
            });
        }
        let Some(line) = lines.last_mut() else {
            continue;
        };
        if *worked != WorkedView::Current {
            line.against_current.push(paired_difference(first, rows));
        }
        let attempts: u32 = rows.iter().map(|row| row.attempts).sum();
        line.mean_attempts
            .push(f64::from(attempts) / f64::from(setup.trials.max(1)));
        line.runs.push(summarise(label, rows));
    }
    lines
}
