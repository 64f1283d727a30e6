//! Foreshortening of coronary segments in customary views.

use nalgebra::Vector3;

use super::{Experiment, Pair, Value};
use crate::evidence::Broken;
use crate::projection::{Beam, CUSTOMARY, foreshortening};
use crate::scenario::view::ViewAngles;

pub const EXPERIMENT: Experiment = Experiment {
    name: "foreshortening",
    question: "How short do coronary segments look in the view that an operator takes?",
    source: "Tu 2011, EuroIntervention 7, DOI 10.4244/EIJV7I1A19: operator's view 8.9 +- 8.2 % (seen); Green \
             2005, Catheter Cardiovasc. Interv. 64:451: working views 0 to 50 % (seen)",
    scene: "Five segments of the published mean tree (Dodge 1988) as straight chords, in the best of the customary \
            views for each",
    uncertainty: "the published standard deviation and range; of the simulated ones the standard deviation over the \
                  five segments",
    unknown: &[
        "which segments and views were measured",
        "how curved they were: a chord has a view without any foreshortening",
    ],
    says_little: "a published spread as wide as its mean holds most of what could be found",
    covers: Vec::new,
    compare,
};

/// Chords of the mean tree in the patient's frame (left, head, front), mm from the left ostium: Dodge 1988 and 1992
/// (second-hand transcription): the ostium, the ends of the left main, of the first and the second third of the
/// LAD, the middle of its last third, the end of the first part of the `LCx`.
const OSTIUM: [f64; 3] = [0.0, 0.0, 0.0];
const LM_END: [f64; 3] = [10.8, 0.0, 2.1];
const LAD_1: [f64; 3] = [25.6, -2.6, 15.4];
const LAD_2: [f64; 3] = [39.1, -19.0, 48.3];
const LAD_3: [f64; 3] = [42.8, -53.5, 74.2];
const LCX_1: [f64; 3] = [18.4, -11.3, -3.9];
const SEGMENTS: [[[f64; 3]; 2]; 5] = [
    [OSTIUM, LM_END],
    [LM_END, LAD_1],
    [LAD_1, LAD_2],
    [LAD_2, LAD_3],
    [LM_END, LCX_1],
];

fn compare() -> Result<Vec<Pair>, Broken> {
    let of_segment = |[from, to]: &[[f64; 3]; 2]| -> Vec<f64> {
        let along = (Vector3::from(*to) - Vector3::from(*from)).normalize();
        CUSTOMARY
            .iter()
            .map(|view| {
                let view = ViewAngles::from_degrees(view.primary_deg, view.secondary_deg);
                100.0 * foreshortening(&along, &Beam::in_patient(&view).along)
            })
            .collect()
    };
    let all = SEGMENTS.iter().map(of_segment);
    let best: Vec<f64> = all
        .map(|views| views.iter().copied().fold(f64::INFINITY, f64::min))
        .collect();
    Ok(pairs(&best))
}

/// Holds the foreshortening in %, one of each segment, against the publications.
pub(super) fn pairs(best: &[f64]) -> Vec<Pair> {
    let mean = best.iter().sum::<f64>() / best.len() as f64;
    let squares: f64 = best.iter().map(|b| (b - mean).powi(2)).sum();
    let sd = (squares / (best.len() as f64 - 1.0)).sqrt();
    let worst = best.iter().copied().fold(0.0, f64::max);
    vec![
        Pair::new(
            "foreshortening in the operator's view, mean (%)",
            Value::about(8.9, 8.2),
            Value::about(mean, sd),
        ),
        Pair::new(
            "foreshortening in the operator's view, worst segment (%)",
            Value::between(0.0, 50.0).said("working views"),
            Value::about(worst, 0.0),
        ),
    ]
}
