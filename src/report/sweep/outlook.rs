//! What a sweep will be, told before it runs: points, trials, and about how much time, memory and
//! disk it takes.

use std::fmt::Write as _;

use crate::report::CAUTION;
use crate::scenario::model::{Scenario, SolverSpec};
use crate::scenario::sweep::SweepSpec;
use crate::scenario::sweep::model::{DesignKind, Distribution, ParameterSpec, Values, shown};
use crate::shown::{counted, cut, listed};
use crate::study::StudySetup;

/// Bytes that the program takes beside its vessels.
const PROGRAM_BYTES: f64 = 20e6;
/// Bytes of a trial that is being computed: rods, contact points, matrices.
const TRIAL_BYTES: f64 = 4e6;
/// Bytes of a row in the journal and in both tables together.
const ROW_BYTES: f64 = 1500.0;
/// Points that are looked at to see whether they can be built.
pub const LOOKED_AT: usize = 8;

/// What is known of a sweep before it runs.
#[derive(Debug)]
pub struct Outlook<'a> {
    /// The sweep file.
    pub spec: &'a SweepSpec,
    /// What is to be computed.
    pub setup: &'a StudySetup,
    /// The base scenario.
    pub scenario: &'a Scenario,
    /// Bytes that the vessel of the base scenario takes.
    pub vessel_bytes: usize,
    /// Threads.
    pub threads: usize,
    /// Points that were tried and cannot be built: number and reason.
    pub not_built: &'a [(usize, String)],
    /// Whether --yes is needed.
    pub needs_yes: bool,
}

/// The sweep in words.
#[must_use]
pub fn outlook(outlook: &Outlook<'_>) -> String {
    let Outlook { spec, setup, .. } = outlook;
    let mut text = format!("SWEEP {}\n  {}\n", spec.name, cut_long(&spec.description));
    let _ = writeln!(
        text,
        "  base scenario  {}",
        crate::shown::path(&spec.scenario)
    );
    let _ = writeln!(text, "  content hash   {}\n", setup.content_hash);
    text += "PARAMETERS\n";
    for parameter in &setup.design.parameters {
        let _ = writeln!(text, "  {}: {}", parameter.axis(), values(parameter));
    }
    let _ = writeln!(text, "\nDESIGN\n  kind        {}", kind(setup.design.kind));
    let yes = if outlook.needs_yes {
        " (bendwise sweep wants --yes for so many)"
    } else {
        ""
    };
    let _ = writeln!(text, "  points      {}{yes}", setup.points);
    let _ = writeln!(
        text,
        "  strategies  {}: {}",
        setup.strategies.len(),
        listed(&setup.strategies.iter().map(|s| &s.name).collect::<Vec<_>>())
    );
    let (least, most) = trials(setup);
    match &setup.search {
        None => {
            let _ = writeln!(
                text,
                "  trials      {} of each strategy at every point, {most} in all",
                setup.trials
            );
        }
        Some(search) => {
            let _ = writeln!(
                text,
                "  trials      a search: {least} to {most}, {} with new draws for the winner included",
                search.confirm
            );
        }
    }
    let _ = writeln!(text, "  seed        {}\n", setup.seed);
    resources(&mut text, outlook, least, most);
    points(&mut text, outlook);
    let _ = writeln!(text, "CAUTION\n  {CAUTION}");
    text
}

fn cut_long(description: &str) -> String {
    crate::shown::shortened(description)
}

/// Least and most trials in all.
fn trials(setup: &StudySetup) -> (f64, f64) {
    let pairs = setup.points as f64 * setup.strategies.len() as f64;
    match &setup.search {
        None => (
            pairs * f64::from(setup.trials),
            pairs * f64::from(setup.trials),
        ),
        Some(search) => (
            pairs * f64::from(search.batch) + f64::from(search.confirm),
            pairs * f64::from(search.most_trials) + f64::from(search.confirm),
        ),
    }
}

/// Seconds on one core that one trial takes, over the plans of the scenario: what each technique
/// takes over the length that may be fed, at the usual step and edge. A finer step or edge takes
/// longer in proportion, and so does a vessel that gives way.
#[must_use]
pub fn seconds_a_trial(scenario: &Scenario) -> f64 {
    let techniques = scenario.techniques.iter();
    let seconds = techniques.map(|t| t.plan.technique().seconds_per_100_mm());
    let mean = seconds.sum::<f64>() / scenario.techniques.len().max(1) as f64;
    let solver = &scenario.solver;
    // Times were measured with the usual settings.
    let usual = SolverSpec::default();
    let finer = (usual.step_mm / solver.step_mm) * (usual.edge_mm / solver.edge_mm);
    let bed = if scenario.bed.is_some() {
        IN_A_BED
    } else {
        1.0
    };
    mean * scenario.target.max_fed_mm / 100.0 * finer * bed
}

/// How many times as long a trial takes in a vessel that gives way as in the same one that does not,
/// measured on shipped scenarios.
const IN_A_BED: f64 = 3.0;

/// Bytes that a sweep takes whose base scenario has a vessel of so many, on so many threads.
#[must_use]
pub fn memory_bytes(vessel_bytes: usize, threads: usize) -> f64 {
    let each = vessel_bytes as f64 + TRIAL_BYTES;
    // Two points more than threads may be ready, and the base.
    PROGRAM_BYTES + (threads as f64 + 3.0) * each
}

fn resources(text: &mut String, outlook: &Outlook<'_>, least: f64, most: f64) {
    let seconds = seconds_a_trial(outlook.scenario);
    let threads = outlook.threads as f64;
    let range = |of: &dyn Fn(f64) -> String| {
        if least < most {
            format!("{} to {}", of(least), of(most))
        } else {
            of(most)
        }
    };
    let time = range(&|trials| duration(trials * seconds / threads));
    let memory = memory_bytes(outlook.vessel_bytes, outlook.threads);
    let disk = range(&|trials| size(trials * ROW_BYTES));
    let _ = writeln!(text, "ESTIMATES (nothing was run)");
    let _ = writeln!(
        text,
        "  time    about {time} on {} threads: {seconds:.2} s of one core a trial, from measured times of\n\
        \x20         each technique over the length that may be fed; right within a factor of five",
        outlook.threads
    );
    let _ = writeln!(
        text,
        "  memory  about {}: a vessel of {} and a trial for each thread and three more",
        size(memory),
        size(outlook.vessel_bytes as f64)
    );
    let _ = writeln!(text, "  disk    about {disk}\n");
}

fn points(text: &mut String, outlook: &Outlook<'_>) {
    let tried = outlook.setup.points.min(LOOKED_AT);
    let bad = outlook.not_built;
    let _ = writeln!(
        text,
        "POINTS TRIED\n  {} of {tried} over the whole design can be built",
        tried - bad.len()
    );
    for (point, reason) in bad {
        let values = outlook.setup.design.point(*point);
        let parameters = outlook.setup.design.parameters.iter().zip(&values);
        let values = parameters.map(|(p, value)| format!("{} {}", p.axis(), shown(value)));
        let _ = writeln!(
            text,
            "  point {point} ({}): {}",
            listed(&values.collect::<Vec<_>>()),
            crate::shown::shortened(reason)
        );
    }
    if !bad.is_empty() {
        text.push_str(
            "  A point that cannot be built has no trials; the sweep goes on without it, and its report\n  \
             counts such points and gives the reason.\n",
        );
        text.push_str(if outlook.spec.anatomy.is_drawn() {
            "  A drawn vessel may come out so: its places are moved by chance, and a branch may then bend\n  \
             more tightly than its lumen allows.\n"
        } else {
            "  Leave such values out of the design if they are not wanted.\n"
        });
    }
    text.push('\n');
}

fn kind(kind: DesignKind) -> String {
    match kind {
        DesignKind::Grid => "grid".into(),
        DesignKind::LatinHypercube { .. } => "Latin hypercube".into(),
        DesignKind::Sobol { .. } => "scrambled Sobol sequence".into(),
        DesignKind::PickFreeze { rows } => format!("pick-freeze, {rows} rows"),
    }
}

fn values(parameter: &ParameterSpec) -> String {
    match &parameter.values {
        Values::Listed { levels, .. } => {
            let levels: Vec<String> = levels.iter().map(|level| cut(shown(level))).collect();
            format!(
                "{}: {}",
                counted(levels.len(), "level", "levels"),
                listed(&levels)
            )
        }
        Values::Spread { distribution, .. } => match distribution {
            Distribution::Uniform { low, high } => format!("uniform from {low} to {high}"),
            Distribution::LogUniform { low, high } => format!("log-uniform from {low} to {high}"),
            Distribution::Normal { mean, sd } => format!("normal, mean {mean}, sd {sd}"),
            Distribution::TruncatedNormal {
                mean,
                sd,
                low,
                high,
            } => format!("normal, mean {mean}, sd {sd}, cut to {low} to {high}"),
        },
    }
}

/// A time in the unit that suits it.
#[must_use]
pub fn duration(seconds: f64) -> String {
    match seconds {
        s if s < 90.0 => format!("{s:.0} s"),
        s if s < 5400.0 => format!("{:.0} min", s / 60.0),
        s if s < 172_800.0 => format!("{:.1} h", s / 3600.0),
        s => format!("{:.1} days", s / 86_400.0),
    }
}

/// A size in the unit that suits it.
fn size(bytes: f64) -> String {
    match bytes {
        b if b < 1e6 => format!("{:.0} kB", b / 1e3),
        b if b < 1e9 => format!("{:.0} MB", b / 1e6),
        b => format!("{:.1} GB", b / 1e9),
    }
}
