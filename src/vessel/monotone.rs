//! Cubics that keep the shape of the data they go through: where the data rise, the curve rises,
//! and it never leaves the range of its two neighbours.
//!
//! Source: F. N. Fritsch and R. E. Carlson, SIAM J Numer Anal 17:238-246, 1980. A cubic with the
//! secant d and the end slopes m0 and m1 is monotone if m0/d and m1/d are 0 or more and the sum of
//! their squares is 9 or less.

/// Largest sum of the squares of both end slopes over the secant.
const REGION: f64 = 9.0;

/// Slopes at points (place, value) in rising order of place, at least one, with which the cubics
/// between them keep the data's shape. Inside, the slope of the parabola through three points, 0 at
/// a highest or lowest one; at the ends the slope of the secant, so that two points are joined by a
/// straight line.
pub(super) fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let secants: Vec<(f64, f64)> = points
        .windows(2)
        .map(|p| {
            let width = p[1].0 - p[0].0;
            (width, (p[1].1 - p[0].1) / width)
        })
        .collect();
    let (Some(first), Some(last)) = (secants.first(), secants.last()) else {
        return vec![0.0; points.len()];
    };
    let mut slopes = vec![first.1];
    slopes.extend(secants.windows(2).map(|s| {
        let [(h0, d0), (h1, d1)] = [s[0], s[1]];
        if d0 * d1 > 0.0 {
            (h1 * d0 + h0 * d1) / (h0 + h1)
        } else {
            0.0
        }
    }));
    slopes.push(last.1);
    for (i, (_, secant)) in secants.iter().enumerate() {
        let (m0, m1) = limited(slopes[i], slopes[i + 1], *secant);
        (slopes[i], slopes[i + 1]) = (m0, m1);
    }
    slopes
}

/// Eases the slopes of samples (value, slope) at equal distances `spacing` where both have the sign
/// of the secant between them and the cubic would still overshoot. An interval with a highest or
/// lowest place inside is left as it is.
pub(super) fn ease(samples: &mut [(f64, f64)], spacing: f64) {
    for i in 1..samples.len() {
        let secant = (samples[i].0 - samples[i - 1].0) / spacing;
        let (m0, m1) = (samples[i - 1].1, samples[i].1);
        let is_monotone = m0 * m1 >= 0.0 && m0 * secant >= 0.0 && m1 * secant >= 0.0;
        if is_monotone {
            (samples[i - 1].1, samples[i].1) = limited(m0, m1, secant);
        }
    }
}

/// Both end slopes over the secant brought into the region of monotone cubics.
fn limited(m0: f64, m1: f64, secant: f64) -> (f64, f64) {
    let square = m0 * m0 + m1 * m1;
    if square <= REGION * secant * secant {
        return (m0, m1);
    }
    let factor = (REGION / square).sqrt() * secant.abs();
    (m0 * factor, m1 * factor)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Table 1 of the source (radiochemical data): the values rise, and so does the curve.
    #[test]
    fn the_curve_through_rising_data_rises() {
        let points = [
            (7.99, 0.0),
            (8.09, 2.764_29e-5),
            (8.19, 4.374_98e-2),
            (8.7, 0.169_183),
            (9.2, 0.469_428),
            (10.0, 0.943_740),
            (12.0, 0.998_636),
            (15.0, 0.999_919),
            (20.0, 0.999_994),
        ];
        let slopes = slopes(&points);
        for (k, pair) in points.windows(2).enumerate() {
            let mut before = pair[0].1;
            for i in 1..=200 {
                let value = hermite(pair, [slopes[k], slopes[k + 1]], f64::from(i) / 200.0);
                assert!(value >= before - 1e-15, "interval {k}");
                before = value;
            }
        }
    }

    #[test]
    fn data_of_a_straight_line_are_met_by_it() {
        let points = [(0.0, 1.0), (1.0, 3.0), (4.0, 9.0), (4.5, 10.0)];
        assert!(slopes(&points).iter().all(|m| (m - 2.0).abs() < 1e-15));
        assert_eq!(slopes(&[(3.0, 7.0)]), [0.0]);
    }

    /// Value of a cubic at the part `t` of its interval.
    fn hermite(pair: &[(f64, f64)], slopes: [f64; 2], t: f64) -> f64 {
        let h = pair[1].0 - pair[0].0;
        let (a, b) = (1.0 - t, t);
        pair[0].1 * a * a * (1.0 + 2.0 * b)
            + pair[1].1 * b * b * (1.0 + 2.0 * a)
            + h * a * b * (slopes[0] * a - slopes[1] * b)
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: prop::test_runner::RngSeed::Fixed(4),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        #[test]
        fn no_cubic_leaves_the_range_of_its_ends(
            steps in prop::collection::vec((1e-3..30.0_f64, 0.05..20.0_f64), 2..30)
        ) {
            let mut place = 0.0;
            let points: Vec<(f64, f64)> = steps
                .iter()
                .map(|(step, value)| {
                    place += step;
                    (place, *value)
                })
                .collect();
            let slopes = slopes(&points);
            for (k, pair) in points.windows(2).enumerate() {
                let (low, high) = (pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1));
                for i in 0..=50 {
                    let value = hermite(pair, [slopes[k], slopes[k + 1]], f64::from(i) / 50.0);
                    // Rounding of sums of numbers up to 20.
                    prop_assert!(value >= low - 1e-13 && value <= high + 1e-13);
                }
            }
        }
    }
}
