//! A vessel that moves by itself: with the heart, and with the breath.

use std::f64::consts::TAU;

use nalgebra::Vector3;

use super::spline::weights;

/// Share of a beat in which the heart contracts, and in which it relaxes again; the rest is a pause.
///
/// From end diastole to end systole about 0.35 of a beat at rest, relaxation about as long (from memory).
const CONTRACTION: f64 = 0.35;
const RELAXATION: f64 = 0.35;
/// Time in s from `time_s` to the next pause of a heart whose beats of `period_s` begin at 0: 0 within one.
#[must_use]
pub fn pause_in_s(period_s: f64, time_s: f64) -> f64 {
    let share = (time_s / period_s).rem_euclid(1.0);
    // A pause that is reached by waiting for it counts as reached.
    const ROUNDED: f64 = 1e-9;
    if share >= CONTRACTION + RELAXATION - ROUNDED {
        0.0
    } else {
        (CONTRACTION + RELAXATION - share) * period_s
    }
}

/// Largest slope of [`systole`]: 15/8 over a ramp.
const STEEPEST: f64 = 1.875 / CONTRACTION;
/// Rounds in which the values of a smooth curve are found; each takes off half of what is left.
const ROUNDS: u32 = 60;

/// Displacements of a vessel's axes that come and go, added up. Control vectors are those of the
/// displacements of a [`super::GivingVessel`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Motion {
    /// What comes and goes, each with its own period.
    pub cycles: Vec<Cycle>,
}

/// One displacement that comes and goes.
#[derive(Debug, Clone, PartialEq)]
pub struct Cycle {
    period_s: f64,
    course: PeriodCourse,
}

/// How a displacement runs over its period.
#[derive(Debug, Clone, PartialEq)]
enum PeriodCourse {
    /// A contraction, a relaxation and a pause: control vectors at end systole against end diastole, in mm.
    Beat(Vec<Vector3<f64>>),
    /// A sine: control vectors when breathed in against breathed out, in mm.
    Breath(Vec<Vector3<f64>>),
    /// The control values in time of a periodic cubic spline through phases at equal times.
    Phases(Vec<Vec<Vector3<f64>>>),
}

/// How far systole has gone at a share of the beat, from 0 at end diastole to 1: twice continuously
/// differentiable.
pub(super) fn systole(share: f64) -> f64 {
    let rising = |x: f64| x * x * x * (10.0 - 15.0 * x + 6.0 * x * x);
    if share < CONTRACTION {
        rising(share / CONTRACTION)
    } else if share < CONTRACTION + RELAXATION {
        1.0 - rising((share - CONTRACTION) / RELAXATION)
    } else {
        0.0
    }
}

impl Cycle {
    /// A beat of the heart of `period_s` (s, above 0) that takes the axes to the control vectors `to` (mm)
    /// at end systole and back.
    #[must_use]
    pub fn beat(period_s: f64, to: Vec<Vector3<f64>>) -> Self {
        let course = PeriodCourse::Beat(to);
        Self { period_s, course }
    }

    /// A breath of `period_s` (s, above 0) that takes the axes to the control vectors `to` (mm) and back.
    #[must_use]
    pub fn breath(period_s: f64, to: Vec<Vector3<f64>>) -> Self {
        let course = PeriodCourse::Breath(to);
        Self { period_s, course }
    }

    /// A cycle of `period_s` (s, above 0) through phases at equal times, the first at its beginning: control
    /// vectors in mm, equally many in each, smoothly in time.
    #[must_use]
    pub fn through(period_s: f64, phases: &[Vec<Vector3<f64>>]) -> Self {
        // (v[k-1] + 4 v[k] + v[k+1])/6 at each phase, all around.
        let n = phases.len();
        let mut values = phases.to_vec();
        for _ in 0..ROUNDS {
            for k in 0..n {
                for j in 0..phases[k].len() {
                    let beside = values[(k + n - 1) % n][j] + values[(k + 1) % n][j];
                    values[k][j] = (phases[k][j] * 6.0 - beside) / 4.0;
                }
            }
        }
        let course = PeriodCourse::Phases(values);
        Self { period_s, course }
    }

    /// Number of control vectors.
    fn controls(&self) -> usize {
        match &self.course {
            PeriodCourse::Beat(to) | PeriodCourse::Breath(to) => to.len(),
            PeriodCourse::Phases(values) => values.first().map_or(0, Vec::len),
        }
    }

    fn add(&self, time_s: f64, out: &mut [Vector3<f64>]) {
        let share = (time_s / self.period_s).rem_euclid(1.0);
        let mut add = |of: &[Vector3<f64>], share: f64| {
            for (out, of) in out.iter_mut().zip(of) {
                *out += of * share;
            }
        };
        match &self.course {
            PeriodCourse::Beat(to) => add(to, systole(share)),
            PeriodCourse::Breath(to) => add(to, 0.5 - 0.5 * (TAU * share).cos()),
            PeriodCourse::Phases(values) => {
                let n = values.len();
                let at = share * super::super::path::number(n);
                let k = super::super::path::whole(at).min(n - 1);
                let weights = weights(at - super::super::path::number(k));
                for (i, weight) in weights.into_iter().enumerate() {
                    add(&values[(k + n - 1 + i) % n], weight);
                }
            }
        }
    }

    /// Upper bound of the speed of any control vector in mm/s.
    fn top_speed_mm_per_s(&self) -> f64 {
        let farthest = |of: &[Vector3<f64>]| of.iter().map(Vector3::norm).fold(0.0, f64::max);
        let per_period = match &self.course {
            PeriodCourse::Beat(to) => STEEPEST * farthest(to),
            PeriodCourse::Breath(to) => 0.5 * TAU * farthest(to),
            // The slope of a cubic B-spline lies among the differences of its values.
            PeriodCourse::Phases(values) => {
                let n = values.len();
                let apart = |k: usize| {
                    let both = values[k].iter().zip(&values[(k + 1) % n]);
                    both.map(|(a, b)| (b - a).norm()).fold(0.0, f64::max)
                };
                super::super::path::number(n) * (0..n).map(apart).fold(0.0, f64::max)
            }
        };
        per_period / self.period_s
    }
}

impl Motion {
    /// Control vectors at a time in s, put into `out`, which has their number.
    pub fn at(&self, time_s: f64, out: &mut [Vector3<f64>]) {
        out.fill(Vector3::zeros());
        for cycle in &self.cycles {
            cycle.add(time_s, out);
        }
    }

    /// Time in s, `most_s` at most, within which no control vector that counts by `counts` goes farther than
    /// `way_mm` from where it is at `time_s`; a twentieth of the shortest period at most.
    #[must_use]
    pub fn time_within(
        &self,
        time_s: f64,
        (most_s, way_mm): (f64, f64),
        counts: impl Fn(usize) -> bool,
    ) -> f64 {
        const PARTS: f64 = 20.0;
        const HALVINGS: u32 = 20;
        let periods = self.cycles.iter().map(|cycle| cycle.period_s);
        let mut within = most_s.min(periods.fold(f64::INFINITY, f64::min) / PARTS);
        let count = self.cycles.first().map_or(0, Cycle::controls);
        let (mut now, mut then) = (vec![Vector3::zeros(); count], vec![Vector3::zeros(); count]);
        self.at(time_s, &mut now);
        for _ in 0..HALVINGS {
            self.at(time_s + within, &mut then);
            let both = now.iter().zip(&then).enumerate();
            let ways = both
                .filter(|(j, _)| counts(*j))
                .map(|(_, (a, b))| (a - b).norm());
            let farthest = ways.fold(0.0, f64::max);
            if farthest <= way_mm {
                break;
            }
            within *= (0.9 * way_mm / farthest).max(0.5);
        }
        within
    }

    /// Upper bound of the speed of any control vector in mm/s.
    #[must_use]
    pub fn top_speed_mm_per_s(&self) -> f64 {
        self.cycles.iter().map(Cycle::top_speed_mm_per_s).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_beat_comes_back_and_is_never_faster_than_said() {
        let circle = |k: i32| {
            let angle = TAU * f64::from(k) / 8.0;
            vec![Vector3::new(0.0, angle.cos(), angle.sin()) * 2.0]
        };
        let phases: Vec<_> = (0..8).map(circle).collect();
        let motion = Motion {
            cycles: vec![
                Cycle::beat(0.9, vec![Vector3::new(6.0, 0.0, 0.0)]),
                Cycle::breath(4.0, vec![Vector3::new(0.0, 5.0, 0.0)]),
                Cycle::through(1.2, &phases),
            ],
        };
        let at = |t: f64| {
            let mut out = [Vector3::zeros()];
            motion.at(t, &mut out);
            out[0]
        };
        approx::assert_relative_eq!(at(0.0), at(36.0), epsilon = 1e-9);
        let mut fastest: f64 = 0.0;
        for k in 0..8000 {
            let t = 0.001 * f64::from(k);
            fastest = fastest.max((at(t + 5e-4) - at(t)).norm() / 5e-4);
        }
        let bound = motion.top_speed_mm_per_s();
        assert!(
            fastest <= bound && fastest > 0.6 * bound,
            "{fastest} of {bound}"
        );
        approx::assert_relative_eq!(at(0.35 * 0.9).x, 6.0, epsilon = 1e-9);
    }

    #[test]
    fn a_cycle_goes_through_its_phases_and_round_a_circle_in_between() {
        let circle = |share: f64| {
            let angle = TAU * share;
            Vector3::new(angle.cos(), angle.sin(), 0.0)
        };
        let phases: Vec<_> = (0..12).map(|k| vec![circle(f64::from(k) / 12.0)]).collect();
        let cycle = Cycle::through(2.0, &phases);
        for k in 0..240 {
            let share = f64::from(k) / 240.0;
            let mut out = [Vector3::zeros()];
            cycle.add(2.0 * share, &mut out);
            let allowed = if k % 20 == 0 { 1e-12 } else { 3e-4 };
            approx::assert_abs_diff_eq!(out[0], circle(share), epsilon = allowed);
        }
    }
}
