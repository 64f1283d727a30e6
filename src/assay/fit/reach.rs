//! Which stretches of a wire the readings of a fit reach.

use super::Curve;
use crate::scenario::bench::FitSpec;

/// Longest gap between two stretches that is interpolated, over the longer of the two lengths of
/// wire that the tests beside it bend.
const BRIDGED: f64 = 0.5;

/// Stretches of the wire in mm from the tip, rising and apart from each other.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reach {
    /// Where the fitted stiffness holds.
    pub stretches: Vec<(f64, f64)>,
    /// The gaps within [`Reach::stretches`] that no reading bends.
    pub interpolated: Vec<(f64, f64)>,
}

impl Reach {
    /// What the readings reach: three-point bending from one support to the other, flexibility and
    /// tip load from the tip to the chuck; `held_mm` is the held length of the tip load.
    #[must_use]
    pub fn of(fit: &FitSpec, curves: &[Curve], held_mm: f64) -> Self {
        let mut bent: Vec<(f64, f64)> = Vec::new();
        for (spec, curve) in fit.curves.iter().zip(curves) {
            bent.extend(curve.rows().iter().map(|row| match curve {
                Curve::ThreePoint(_) => {
                    let half = 0.5 * spec.span_mm;
                    ((row[0] - half).max(0.0), row[0] + half)
                }
                Curve::Flexibility(_) => (0.0, row[0]),
            }));
        }
        bent.extend(fit.tip_load.map(|_| (0.0, held_mm)));
        bent.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut reach = Self::default();
        let mut test_mm = 0.0_f64;
        for (from, to) in bent {
            let length = to - from;
            match reach.stretches.last_mut() {
                Some(last) if from - last.1 <= BRIDGED * length.max(test_mm) => {
                    if from > last.1 {
                        reach.interpolated.push((last.1, from));
                    }
                    if to > last.1 {
                        last.1 = to;
                        test_mm = length;
                    }
                }
                _ => {
                    reach.stretches.push((from, to));
                    test_mm = length;
                }
            }
        }
        reach
    }

    /// Whether the fitted stiffness holds at `s` mm from the tip.
    #[must_use]
    pub fn holds(&self, s: f64) -> bool {
        self.stretches
            .iter()
            .any(|&(from, to)| (from..=to).contains(&s))
    }

    /// The stretches between tip and `end_mm` where it does not.
    #[must_use]
    pub fn beyond(&self, end_mm: f64) -> Vec<(f64, f64)> {
        let mut left = Vec::new();
        let mut from = 0.0;
        for &(begin, end) in &self.stretches {
            if begin > from {
                left.push((from, begin));
            }
            from = end;
        }
        if end_mm > from {
            left.push((from, end_mm));
        }
        left
    }
}

/// Stretches in words: "0 to 20 and 40 to 60 mm".
#[must_use]
pub fn in_words(stretches: &[(f64, f64)]) -> String {
    let each: Vec<String> = stretches
        .iter()
        .map(|(from, to)| format!("{} to {}", rounded(*from), rounded(*to)))
        .collect();
    match each.split_last() {
        None => "nothing".to_owned(),
        Some((last, [])) => format!("{last} mm"),
        Some((last, rest)) => format!("{} and {last} mm", rest.join(", ")),
    }
}

/// A length in mm to a thousandth, without zeros at its end.
fn rounded(mm: f64) -> f64 {
    (1e3 * mm).round() / 1e3
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::bench::{CurveSpec, FitKind, MeasuredTipLoad};
    use crate::scenario::model::{EndCondition, Place};

    fn reach(stations: &[f64], span_mm: f64, tip_load: bool) -> Reach {
        let fit = FitSpec {
            name: "found".into(),
            wire: 0,
            curves: vec![CurveSpec {
                file: "measured.csv".into(),
                kind: FitKind::ThreePoint,
                relative_error: None,
                span_mm,
                place: Place::default(),
            }],
            tip_load: tip_load.then_some(MeasuredTipLoad {
                tip_load_mn: 1.0,
                end_condition: EndCondition::FixedPinned,
                relative_error: None,
            }),
            knots_mm: vec![20.0],
            place: Place::default(),
        };
        let rows = stations.iter().map(|&s| [s, 0.2, 1.0]).collect();
        Reach::of(&fit, &[Curve::ThreePoint(rows)], 10.0)
    }

    #[test]
    fn a_reading_reaches_from_support_to_support_and_a_tip_load_from_tip_to_chuck() {
        let alone = reach(&[30.0, 40.0, 50.0], 20.0, false);
        assert_eq!(alone.stretches, [(20.0, 60.0)]);
        assert_eq!(alone.beyond(100.0), [(0.0, 20.0), (60.0, 100.0)]);
        let with_tip = reach(&[60.0], 20.0, true);
        assert_eq!(with_tip.stretches, [(0.0, 10.0), (50.0, 70.0)]);
        assert_eq!(in_words(&with_tip.stretches), "0 to 10 and 50 to 70 mm");
        assert!(with_tip.holds(0.0) && !with_tip.holds(30.0));
    }

    #[test]
    fn a_gap_of_half_a_span_is_interpolated_and_a_longer_one_is_not() {
        let bridged = reach(&[30.0, 60.0], 20.0, false);
        assert_eq!(bridged.stretches, [(20.0, 70.0)]);
        assert_eq!(bridged.interpolated, [(40.0, 50.0)]);
        let apart = reach(&[30.0, 61.0], 20.0, false);
        assert_eq!(apart.stretches, [(20.0, 40.0), (51.0, 71.0)]);
        assert!(apart.interpolated.is_empty());
    }
}
