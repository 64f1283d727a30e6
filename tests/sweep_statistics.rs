//! Are designs, sensitivity indices and regressions those of the literature and of other programs?
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

mod sweep_common;

use std::convert::Infallible;
use std::f64::consts::PI;

use approx::assert_abs_diff_eq;
use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::sweep::{Design, NotFitted, Observation, PickFreeze, fit_logistic, sobol};
use sweep_common::{plan, uniform};

/// First 16 points in 8 dimensions of an unscrambled sequence from another program, times 2^16;
/// made by `tests/reference/sobol_points.py`.
const SOBOL: &str = include_str!("reference/sobol_points.csv");

/// The reference runs through the points in the order of Gray's code, in which point n is the
/// sequence's point n ^ n/2.
#[test]
fn sobol_points_have_the_published_direction_numbers() {
    let mut compared = 0;
    for (row, line) in SOBOL
        .lines()
        .filter(|line| !line.starts_with('#'))
        .enumerate()
    {
        for (dimension, value) in line.split(',').enumerate() {
            let expected: u32 = value.parse().unwrap();
            assert_eq!(
                sobol(row ^ (row >> 1), dimension) >> 16,
                expected,
                "{row} {dimension}"
            );
            compared += 1;
        }
    }
    assert_eq!(compared, 16 * 8);
}

/// Indices of a function of the unit cube from a pick-freeze design.
fn indices(parameters: usize, rows: usize, f: impl Fn(&[f64]) -> f64) -> PickFreeze {
    let uniform: Vec<_> = (0..parameters)
        .map(|k| uniform(&format!("x{k}"), 0.0, 1.0))
        .collect();
    let design: Design = plan(DesignKind::PickFreeze { rows }, uniform, 1, 7).design;
    let mut sums = PickFreeze::new(parameters, 7);
    for row in 0..rows {
        let at = |k: usize| f(&design.unit_point(row * (parameters + 2) + k));
        let mixed: Vec<f64> = (0..parameters).map(|k| at(2 + k)).collect();
        sums.add(at(0), at(1), &mixed);
    }
    sums
}

/// T. Ishigami and T. Homma, 1990, with a = 7, b = 0.1; closed forms as in A. Saltelli et al.,
/// *Global Sensitivity Analysis: The Primer*, 2008.
#[test]
fn ishigami_function_has_its_indices() {
    let f = |u: &[f64]| {
        let x = |k: usize| PI * (2.0 * u[k] - 1.0);
        x(0).sin() + 7.0 * x(1).sin().powi(2) + 0.1 * x(2).powi(4) * x(0).sin()
    };
    let found = indices(3, 8192, f).indices().unwrap();
    let expected = [(0.3139, 0.5576), (0.4424, 0.4424), (0.0, 0.2437)];
    for ((first, total), (s, t)) in found.iter().zip(expected) {
        println!(
            "first {:.4} for {s}, total {:.4} for {t}",
            first.value, total.value
        );
        // The error of 8192 rows is about one over the root of them.
        assert_abs_diff_eq!(first.value, s, epsilon = 0.012);
        assert_abs_diff_eq!(total.value, t, epsilon = 0.012);
        assert!(first.ci95[0] < s + 0.01 && first.ci95[1] > s - 0.01);
        assert!(total.ci95[0] < t && total.ci95[1] > t);
    }
}

/// I. M. Sobol's g-function with a = 0, 1, 4.5, 9: variance of each factor 1 / 3(1 + a)².
#[test]
fn g_function_has_its_indices() {
    let a = [0.0, 1.0, 4.5, 9.0];
    let f = |u: &[f64]| -> f64 {
        let factor = |(u, a): (&f64, &f64)| ((4.0 * u - 2.0).abs() + a) / (1.0 + a);
        u.iter().zip(&a).map(factor).product()
    };
    let parts = a.map(|a: f64| 1.0 / (3.0 * (1.0 + a).powi(2)));
    let product: f64 = parts.iter().map(|v| 1.0 + v).product();
    let variance = product - 1.0;
    let found = indices(4, 8192, f).indices().unwrap();
    for ((first, total), part) in found.iter().zip(parts) {
        assert_abs_diff_eq!(first.value, part / variance, epsilon = 0.015);
        let exact = part * product / (1.0 + part) / variance;
        assert_abs_diff_eq!(total.value, exact, epsilon = 0.015);
    }
}

#[test]
fn a_constant_has_no_indices() {
    assert!(indices(2, 64, |_| 0.25).indices().is_none());
}

/// L. Spector and M. Mazzeo, J Econ Educ 11:37-44, 1980: grade against point average, test score
/// and new teaching; coefficients as W. H. Greene, *Econometric Analysis*, prints them (-13.021,
/// 2.826, 0.095, 2.379), and all digits from a general statistics package by
/// `tests/reference/logistic_spector.py`.
const SPECTOR: &str = include_str!("reference/spector.csv");

#[test]
fn logistic_regression_equals_a_statistics_package() {
    let data: Vec<Vec<f64>> = SPECTOR
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| line.split(',').map(|v| v.parse().unwrap()).collect())
        .collect();
    assert_eq!(data.len(), 32);
    let names = ["GPA", "TUCE", "PSI"].map(str::to_owned);
    let fit = fit_logistic::<Infallible>(&names, |take| {
        for row in &data {
            take(&Observation {
                x: row[..3].to_vec(),
                successes: row[3],
                trials: 1.0,
                by_draw: Vec::new(),
            });
        }
        Ok(())
    })
    .unwrap()
    .unwrap();
    let close = |found: f64, reference: f64| {
        assert!(
            (found - reference).abs() < 1e-6 * reference.abs(),
            "{found} for {reference}"
        );
    };
    close(fit.constant, -13.021_346_858_115_7);
    close(fit.constant_standard_error, 4.931_324_213_602_72);
    close(fit.log_likelihood, -12.889_634_222_131_418);
    for (term, (b, error)) in fit.terms.iter().zip([
        (2.826_112_594_889_323, 1.262_941_075_629_075),
        (0.095_157_661_317_909, 0.141_554_205_673_696),
        (2.378_687_655_093_354, 1.064_564_254_497_131),
    ]) {
        close(term.coefficient, b);
        close(term.standard_error, error);
        assert!(term.standard_error_by_draw.is_none());
    }
}

fn fitted(points: &[(f64, f64, f64)]) -> Result<f64, NotFitted> {
    fit_logistic::<Infallible>(&["x".to_owned()], |take| {
        for &(x, successes, trials) in points {
            take(&Observation {
                x: vec![x],
                successes,
                trials,
                by_draw: Vec::new(),
            });
        }
        Ok(())
    })
    .unwrap()
    .map(|fit| fit.terms[0].coefficient)
}

/// With two groups the odds ratio is that of the fourfold table: (8·7)/(2·3).
#[test]
fn a_fourfold_table_gives_its_own_odds_ratio() {
    let coefficient = fitted(&[(0.0, 3.0, 10.0), (1.0, 8.0, 10.0)]).unwrap();
    assert_abs_diff_eq!(coefficient, (56.0_f64 / 6.0).ln(), epsilon = 1e-9);
}

#[test]
fn what_cannot_be_fitted_is_said() {
    assert_eq!(
        fitted(&[(0.0, 0.0, 5.0), (1.0, 0.0, 5.0)]),
        Err(NotFitted::AllAlike)
    );
    assert_eq!(
        fitted(&[(1.0, 2.0, 5.0), (1.0, 3.0, 5.0)]),
        Err(NotFitted::Dependent)
    );
    assert_eq!(
        fitted(&[(0.0, 0.0, 5.0), (1.0, 5.0, 5.0)]),
        Err(NotFitted::Separated)
    );
}
