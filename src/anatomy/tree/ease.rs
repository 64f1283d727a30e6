//! Smoothing that is as strong as the bends need: no stronger than stated where the lumen goes
//! round its bends, stronger where the lumen radius would be more than 0.7 of that of a bend.

use super::ImportSettings;
use super::changes::Changes;
use super::polyline::Polyline;

/// Lumen radius over bend radius from which on a line is smoothed more. Trials vary the diameter by
/// some per cent, so a bend at 1 would be beyond it in half of them.
pub(super) const EASY: f64 = 0.7;
/// First scale in mm where none was stated.
const FIRST_MM: f64 = 0.3;
/// How much stronger a line is smoothed at a time.
const STRONGER: f64 = 1.25;
/// Largest scale as a share of the lumen radius there: shorter turns of an axis than a radius are
/// those of the method that found it.
const LARGEST: f64 = 1.0;
/// Largest change of the scale for each mm along the line, so that smoothing has no steps.
const SLOPE: f64 = 0.2;
/// Largest number of times.
const TRIES: usize = 16;

/// The line smoothed; what was smoothed more than stated is counted.
pub(super) fn eased(raw: &Polyline, settings: &ImportSettings, changes: &mut Changes) -> Polyline {
    let n = raw.points.len();
    let mut scales = vec![settings.smooth_mm; n];
    let mut line = raw.smoothed_by(&scales);
    if !settings.smooth_more || n < 4 {
        return line;
    }
    let spacing = raw.length() / (n - 1) as f64;
    for _ in 0..TRIES {
        let mut raised = false;
        let before = scales.clone();
        for i in 0..n {
            let most = LARGEST * line.radii[i];
            if line.tightness(i) <= EASY || before[i] >= most {
                continue;
            }
            let scale = (STRONGER * before[i]).max(FIRST_MM).min(most);
            raised = raised || scale > scales[i];
            scales[i] = scales[i].max(scale);
        }
        if !raised {
            break;
        }
        for i in 1..n {
            scales[i] = scales[i].max(scales[i - 1] - SLOPE * spacing);
        }
        for i in (0..n - 1).rev() {
            scales[i] = scales[i].max(scales[i + 1] - SLOPE * spacing);
        }
        // Once more as stated: where the scale changes, the line has small turns.
        line = raw.smoothed_by(&scales).smoothed(settings.smooth_mm);
    }
    for i in 0..n {
        if scales[i] > settings.smooth_mm {
            changes.smoothed_more_mm += spacing;
            if scales[i] > changes.largest_scale.0 {
                changes.largest_scale = (scales[i], raw.points[i]);
            }
        }
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector3;

    /// A bend of 10 mm radius whose axis trembles by 0.3 mm over 6 mm.
    fn trembling(radius: f64) -> Polyline {
        let points = (0..=200)
            .map(|i| {
                let s = 0.2 * f64::from(i);
                let (sin, cos) = (s / 10.0).sin_cos();
                let rho = 10.0 + 0.3 * s.sin();
                Vector3::new(rho * cos, rho * sin, 0.0)
            })
            .collect();
        Polyline {
            points,
            radii: vec![radius; 201],
        }
    }

    #[test]
    fn only_a_line_whose_bends_are_tighter_than_its_lumen_is_smoothed_more() {
        let settings = ImportSettings::default();
        let mut changes = Changes::default();
        let narrow = trembling(1.0);
        assert_eq!(
            eased(&narrow, &settings, &mut changes),
            narrow.smoothed(settings.smooth_mm)
        );
        assert!(changes.smoothed_more_mm <= 0.0);
        let wide = trembling(3.5);
        let before = wide.smoothed(settings.smooth_mm);
        assert!((0..201).any(|i| before.tightness(i) > 1.0));
        let eased = eased(&wide, &settings, &mut changes);
        assert!((0..201).all(|i| eased.tightness(i) <= EASY));
        assert!(changes.smoothed_more_mm > 10.0);
        assert!(changes.largest_scale.0 <= 3.5);
    }
}
