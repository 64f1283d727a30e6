//! What a person should know about a fit, in sentences.

use super::joint::DOUBTFUL;
use super::reach::in_words;
use super::{ErrorSource, Fitted, FittedSet, Task};
use crate::device::{Wire, tip_load_off};
use crate::scenario::bench::{FitKind, described_mm};
use crate::scenario::model::EndCondition;
use crate::units::STANDARD_GRAVITY_M_PER_S2;

/// Ratio of fitted to described stiffness from which a knot is named.
const FAR: f64 = 2.0;
/// Jump of the stiffness at an end of the reach that is named.
const STEP: f64 = 1.25;
/// How far a factor may lie from that of a known mistake to be named, relative.
const LIKE: f64 = 0.25;
/// Scatter of a set over its loads from which it is named: careful tests stay below half of it.
const LARGE_SCATTER: f64 = 0.1;
/// Standard error over the stiffness from which a knot counts as hardly determined.
const WEAK: f64 = 0.5;

/// Everything worth saying about the fit.
pub(super) fn remarks(task: &Task<'_>, fitted: &Fitted, wire: &Wire) -> Vec<String> {
    let mut said = Vec::new();
    out_of_reach(task, fitted, &mut said);
    steps(task, wire, &mut said);
    let ends =
        wire.tip_load_mn(EndCondition::FixedPinned) / wire.tip_load_mn(EndCondition::FixedFree);
    for set in &fitted.sets {
        about_set(fitted, set, &mut said);
    }
    disagreement(fitted, ends, &mut said);
    if fitted.widened > 1.0 {
        said.push(format!(
            "The intervals are {:.1} times as wide as the errors of the readings say, because of \
             this.",
            fitted.widened
        ));
    }
    far_from_description(task, fitted, ends, &mut said);
    for knot in fitted.knots.iter().filter(|k| k.relative_error > WEAK) {
        said.push(format!(
            "The readings hardly say how stiff the wire is {} mm from its tip: standard error {:.0} %.",
            knot.station_mm,
            100.0 * knot.relative_error
        ));
    }
    said.extend(tip_load_off(&fitted.wire, wire));
    said.iter().map(|remark| sentence(remark)).collect()
}

fn out_of_reach(task: &Task<'_>, fitted: &Fitted, said: &mut Vec<String>) {
    let name = &task.spec.name;
    let described_to = described_mm(task.spec).unwrap_or(0.0);
    let beyond = task.reach.beyond(described_to);
    let (last, rest) = match (task.reach.stretches.last(), beyond.split_last()) {
        (Some(reach), Some((last, rest))) if last.0 >= reach.1 => (Some(last.0), rest),
        (reach, _) => (reach.map(|r| r.1), &beyond[..]),
    };
    let mut stretches = if rest.is_empty() {
        String::new()
    } else {
        format!("{} from the tip and ", in_words(rest))
    };
    if let Some(last) = last {
        stretches += &format!("behind {last} mm");
    }
    said.push(format!(
        "No reading reaches the wire {stretches}: there it keeps the stiffness of \"{name}\" as \
         described, and nothing is extrapolated."
    ));
    if !fitted.reach.interpolated.is_empty() {
        said.push(format!(
            "Between the readings the stiffness is interpolated at {} from the tip.",
            in_words(&fitted.reach.interpolated)
        ));
    }
}

/// Where fitted and described stiffness meet far apart.
fn steps(task: &Task<'_>, wire: &Wire, said: &mut Vec<String>) {
    let ends = task
        .reach
        .stretches
        .iter()
        .flat_map(|&(from, to)| [from, to]);
    for end in ends.filter(|&end| end > 0.0) {
        let (fitted, described) = (
            wire.bending_stiffness(end),
            task.described.bending_stiffness(end),
        );
        let factor = fitted / described;
        if factor.max(1.0 / factor) > STEP {
            said.push(format!(
                "{end} mm from the tip, where the readings end, the stiffness steps between {:.4} \
                 N mm² (fitted) and {:.4} N mm² (described): measure further, or correct the \
                 description of \"{}\".",
                fitted / 1e3,
                described / 1e3,
                task.spec.name
            ));
        }
    }
}

fn about_set(fitted: &Fitted, set: &FittedSet, said: &mut Vec<String>) {
    let name = called(set);
    if set.source == ErrorSource::Assumed {
        said.push(format!(
            "The error of {name} is neither stated nor shown by its few readings; it is taken as \
             {:.0} %.",
            100.0 * set.error
        ));
    }
    if set.source == ErrorSource::Estimated && set.error > LARGE_SCATTER {
        said.push(format!(
            "The readings of {name} scatter by {:.0} % about the fit: they are rough, or a profile with \
             these knots cannot follow the wire.",
            100.0 * set.error
        ));
    }
    if let Some(probability) = set.scatter_probability.filter(|p| *p < DOUBTFUL) {
        said.push(format!(
            "{} scatters more than its stated error of {} %: chi-square {:.1} where {:.1} is expected \
             (probability {}). A profile with these knots does not describe it, or the error is larger.",
            name,
            percent(set.error),
            set.chi_square,
            set.expected,
            small(probability)
        ));
    }
    if set.agreement.is_none() && fitted.sets.len() > 1 {
        said.push(format!(
            "{name} and the other sets have no stretch of wire in common, so whether they agree cannot \
             be told.",
        ));
    }
}

/// Sets that do not say the same: of several the one is named whose loads are off by nearly the factor
/// of a known mistake, or else the one that lies furthest out; the others may only seem to disagree
/// because of it.
fn disagreement(fitted: &Fitted, ends: f64, said: &mut Vec<String>) {
    let doubtful = |set: &&FittedSet| set.agreement.is_some_and(|a| a.probability < DOUBTFUL);
    let out: Vec<&FittedSet> = fitted.sets.iter().filter(doubtful).collect();
    let size = |set: &FittedSet| set.agreement.map_or(0.0, |a| a.chi_square);
    let off_a_mistake = |set: &FittedSet| {
        let known = set
            .agreement
            .and_then(|a| known_mistake(a.factor, set.kind, ends));
        known.map_or(f64::INFINITY, |(off, _)| off)
    };
    let likeness = |a: &FittedSet, b: &FittedSet| {
        let nearer = off_a_mistake(b).total_cmp(&off_a_mistake(a));
        nearer.then(size(a).total_cmp(&size(b)))
    };
    let Some(worst) = out.iter().max_by(|a, b| likeness(a, b)) else {
        return;
    };
    let Some(found) = worst.agreement else {
        return;
    };
    let name = called(worst);
    if let [first, second] = &fitted.sets[..] {
        let (one, other) = if std::ptr::eq(*worst, first) {
            (first, second)
        } else {
            (second, first)
        };
        said.push(format!(
            "{name} disagrees with {}: its loads are {:.2} times those of the wire that the other \
             says (probability {}). {}",
            called(other),
            found.factor,
            small(found.probability),
            mistake(found.factor, &[one.kind, other.kind], ends)
        ));
        return;
    }
    said.push(format!(
        "{name} disagrees with the other sets: its loads are {:.2} times those of the wire that they \
         say (probability {}). {}",
        found.factor,
        small(found.probability),
        mistake(found.factor, &[worst.kind], ends)
    ));
    let rest: Vec<String> = out
        .iter()
        .filter(|set| !std::ptr::eq(**set, *worst))
        .map(|set| called(set))
        .collect();
    if !rest.is_empty() {
        said.push(format!(
            "{} may seem to disagree only because of that: leave {name} out and fit again.",
            rest.join(", ")
        ));
    }
}

/// A set in words.
fn called(set: &FittedSet) -> String {
    match set.kind {
        None => format!("the {}", set.name),
        Some(_) => set.name.clone(),
    }
}

/// A mistake that would put such a factor between loads of tests of these kinds.
fn mistake(factor: f64, kinds: &[Option<FitKind>], ends: f64) -> String {
    let known = kinds
        .iter()
        .find_map(|kind| known_mistake(factor, *kind, ends));
    known.map_or_else(
        || "Check the fixture, the units and which wire it was.".to_owned(),
        |(_, why)| format!("{why} would do that."),
    )
}

/// The mistake on the bench that puts nearly such a factor between two loads, and how far the factor is
/// from it (the logarithm of their ratio); `ends` is the tip load of the wire fixed-pinned over that
/// fixed-free.
fn known_mistake(factor: f64, kind: Option<FitKind>, ends: f64) -> Option<(f64, &'static str)> {
    let of_kind = match kind {
        None => (
            ends,
            "A tip load measured fixed-free and fitted as fixed-pinned, or the other way round \
             (eightfold on a uniform tip: see end_condition),",
        ),
        Some(FitKind::ThreePoint) => (8.0, "A span_mm twice or half as long as the real one"),
        Some(FitKind::Flexibility) => (4.0, "A held length twice or half as long as the real one"),
    };
    let size = factor.max(1.0 / factor);
    [
        of_kind,
        (
            STANDARD_GRAVITY_M_PER_S2,
            "A column of gf read as mN, or the other way round,",
        ),
        (1e3, "A column of N read as mN, or the other way round,"),
    ]
    .into_iter()
    .filter(|(of, _)| (size / of - 1.0).abs() < LIKE)
    .map(|(of, why)| ((size / of).ln().abs(), why))
    .min_by(|a, b| a.0.total_cmp(&b.0))
}

/// Knots that differ from the description by a factor that no wear explains.
fn far_from_description(task: &Task<'_>, fitted: &Fitted, ends: f64, said: &mut Vec<String>) {
    let far: Vec<_> = fitted
        .knots
        .iter()
        .map(|knot| (knot, knot.stiffness / knot.described))
        .filter(|(_, ratio)| ratio.max(1.0 / ratio) >= FAR)
        .collect();
    if far.is_empty() {
        return;
    }
    let list: Vec<String> = far
        .iter()
        .map(|(knot, ratio)| format!("{:.2} times at {} mm", ratio, knot.station_mm))
        .collect();
    #[expect(clippy::cast_precision_loss, reason = "a count of knots")]
    let mean = (far.iter().map(|(_, ratio)| ratio.ln()).sum::<f64>() / far.len() as f64).exp();
    let kinds: Vec<Option<FitKind>> = fitted.sets.iter().map(|set| set.kind).collect();
    let why = mistake(mean, &kinds, ends);
    said.push(format!(
        "The fitted stiffness is far from that of \"{}\" as described: {}. {why}",
        task.spec.name,
        list.join(", ")
    ));
}

/// The words with a capital at their start, unless a file's name stands there, and a full stop.
fn sentence(words: &str) -> String {
    let first = words.split(' ').next().unwrap_or_default();
    let stop = if words.ends_with('.') { "" } else { "." };
    match (first.contains('.'), words.split_at_checked(1)) {
        (false, Some((letter, rest))) => format!("{}{rest}{stop}", letter.to_uppercase()),
        _ => format!("{words}{stop}"),
    }
}

/// A ratio in per cent with two digits.
fn percent(ratio: f64) -> String {
    format!("{}", (1e4 * ratio).round() / 1e2)
}

/// A probability in words.
fn small(probability: f64) -> String {
    if probability < 1e-4 {
        "below 0.0001".to_owned()
    } else {
        format!("{probability:.4}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_mistakes_are_named_by_their_factor() {
        for (factor, kind, word) in [
            (8.2, None, "end_condition"),
            (1.0 / 8.2, None, "end_condition"),
            (10.0, None, "gf"),
            (8.1, Some(FitKind::ThreePoint), "span_mm"),
            (9.8, Some(FitKind::ThreePoint), "gf"),
            (0.25, Some(FitKind::Flexibility), "held length"),
            (1010.0, Some(FitKind::Flexibility), "N read as mN"),
        ] {
            let found = known_mistake(factor, kind, 8.18).expect("a known mistake");
            assert!(found.1.contains(word), "{factor}: {found:?}");
        }
        assert_eq!(known_mistake(1.5, None, 8.18), None);
        assert_eq!(known_mistake(30.0, Some(FitKind::ThreePoint), 8.18), None);
    }
}
