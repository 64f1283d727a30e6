//! Are designs, sensitivity indices and regressions those of the literature and of other programs?
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::convert::Infallible;
use std::f64::consts::PI;

use crate::sweep_common::{setup, uniform};
use approx::assert_abs_diff_eq;
use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::sweep::{
    Design, Interval, LogisticFit, NotFitted, Observation, PickFreeze, Separation, fit_logistic,
    sobol,
};

/// First 16 points in 8 dimensions of an unscrambled sequence from another program, times 2^16;
/// made by `tests/reference/sobol_points.py`.
const SOBOL: &str = include_str!("../reference/sobol_points.csv");

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
    let design: Design = setup(DesignKind::PickFreeze { rows }, uniform, 1, 7).design;
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
/// and new teaching.
const SPECTOR: &str = include_str!("../reference/spector.csv");
/// Endometrial cancer: histology against neovascularisation, pulsatility index and endometrium height.
const ENDOMETRIAL: &str = include_str!("../reference/endometrial.csv");

fn table(text: &str) -> Vec<Vec<f64>> {
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| line.split(',').map(|v| v.parse().unwrap()).collect())
        .collect()
}

/// Fits rows of covariates, successes and trials.
fn fit(
    names: &[&str],
    worth: f64,
    rows: &[(Vec<f64>, f64, f64)],
) -> Result<LogisticFit, NotFitted> {
    let names: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
    fit_logistic::<Infallible>(&names, worth, |take| {
        for (x, successes, trials) in rows {
            take(&Observation {
                x: x.clone(),
                successes: *successes,
                trials: *trials,
                by_draw: Vec::new(),
            });
        }
        Ok(())
    })
    .unwrap()
}

fn cases(text: &str) -> Vec<(Vec<f64>, f64, f64)> {
    let rows = table(text).into_iter();
    rows.map(|row| (row[..3].to_vec(), row[3], 1.0)).collect()
}

fn close(found: f64, reference: f64, part: f64) {
    assert!(
        (found - reference).abs() <= part * reference.abs(),
        "{found} for {reference}"
    );
}

/// Eight digits are printed; a general minimiser agrees to about six.
const DIGITS: f64 = 2e-6;

/// By `tests/reference/logistic_firth.py`: a general minimiser on the penalised likelihood.
#[test]
fn a_penalised_fit_equals_the_maximum_of_a_general_minimiser() {
    let data = cases(SPECTOR);
    assert_eq!(data.len(), 32);
    let fit = fit(&["GPA", "TUCE", "PSI"], 1.0, &data).unwrap();
    assert_eq!(fit.separation, Separation::None);
    close(fit.constant, -10.433_270_180_819_623, DIGITS);
    for (term, b) in fit.terms.iter().zip([
        2.284_464_599_175_324_3,
        0.070_567_815_332_015_02,
        2.006_681_927_828_700_5,
    ]) {
        close(term.coefficient, b, DIGITS);
        assert!(term.standard_error_by_draw.is_none());
    }
}

/// No case with neovascularisation has the other histology: quasi-complete separation. Coefficients
/// and profile intervals as the R package logistf prints them, with all digits; Heinze and Schemper
/// print 2.93, -0.03 and -2.60.
#[test]
fn separated_data_are_fitted_as_published() {
    let data = cases(ENDOMETRIAL);
    assert_eq!(data.len(), 79);
    let fit = fit(&["NV", "PI", "EH"], 1.0, &data).unwrap();
    assert_eq!(fit.separation, Separation::QuasiComplete);
    assert_eq!(fit.interval, Interval::Profile);
    let unbounded: Vec<bool> = fit.terms.iter().map(|term| term.unbounded).collect();
    assert_eq!(unbounded, [true, false, false]);
    close(fit.constant, 3.774_559_51, 1e-5);
    // The package stops at a tolerance of 1e-5.
    for (term, (b, low, high)) in fit.terms.iter().zip([
        (2.929_273_30, 0.609_724_4, 7.854_631_71),
        (-0.034_751_75, -0.124_458_7, 0.040_455_47),
        (-2.604_163_87, -4.365_183_2, -1.232_721_06),
    ]) {
        close(term.coefficient, b, 2e-5);
        close(term.ci95[0], low, 2e-4);
        close(term.ci95[1], high, 2e-4);
    }
}

/// By `tests/reference/logistic_firth.py`, with counts as they are and divided by four.
#[test]
fn counts_of_separated_data_are_divided_by_what_a_trial_is_worth() {
    let successes = [0.0, 0.0, 0.0, 2.0, 3.0, 5.0];
    let trials = [7.0, 6.0, 7.0, 6.0, 7.0, 6.0];
    let rows: Vec<_> = (0..6)
        .map(|k| {
            let x = vec![f64::from(k / 3), f64::from(k % 3) - 1.0];
            (x, successes[k as usize], trials[k as usize])
        })
        .collect();
    for (worth, expected) in [
        (
            1.0,
            [
                (4.040_058_699, 1.710_146_266, 8.989_010_922),
                (0.940_039_115, -0.171_999_438, 2.291_325_207),
            ],
        ),
        (
            4.0,
            [
                (2.383_330_087, -0.384_519_058, 7.491_201_514),
                (0.600_076_308, -1.170_629_964, 2.987_275_339),
            ],
        ),
    ] {
        let fit = fit(&["a", "b"], worth, &rows).unwrap();
        assert_eq!(fit.separation, Separation::QuasiComplete);
        assert!(fit.terms[0].unbounded && !fit.terms[1].unbounded);
        for (term, (b, low, high)) in fit.terms.iter().zip(expected) {
            close(term.coefficient, b, 1e-5);
            close(term.ci95[0], low, 1e-5);
            close(term.ci95[1], high, 1e-5);
        }
    }
}

/// A covariate that does nothing beside one that separates all of two trials' worth: its odds ratio is
/// 1 within a wide interval, which says that it is not known.
#[test]
fn what_is_not_known_beside_a_separation_has_a_wide_interval() {
    let rows: Vec<_> = [
        (0.0, 30.0, 0.0),
        (0.0, 60.0, 0.0),
        (1.0, 30.0, 2.0),
        (1.0, 60.0, 2.0),
    ]
    .map(|(a, b, successes)| (vec![a, b], successes, 2.0))
    .to_vec();
    let fit = fit(&["a", "b"], 4.0, &rows).unwrap();
    assert_eq!(fit.separation, Separation::Complete);
    let idle = &fit.terms[1];
    assert_abs_diff_eq!(idle.coefficient, 0.0, epsilon = 1e-6);
    assert!(idle.p > 0.9, "{idle:?}");
    let [low, high] = idle.ci95.map(|end| 30.0 * end);
    assert!(low < -1.0 && high > 1.0, "{low} to {high}");
}

fn one(points: &[(f64, f64, f64)]) -> Result<LogisticFit, NotFitted> {
    let rows: Vec<_> = points.iter().map(|&(x, s, n)| (vec![x], s, n)).collect();
    fit(&["x"], 1.0, &rows)
}

/// With two groups the penalty adds half a trial to each of the four cells (D. Firth, 1993, section
/// 3.3): the odds ratio is (8.5 · 7.5)/(2.5 · 3.5), and with an empty cell (10.5 · 5.5)/(0.5 · 5.5).
#[test]
fn a_fourfold_table_gives_its_odds_ratio_with_half_a_trial_more_in_each_cell() {
    let fit = one(&[(0.0, 3.0, 10.0), (1.0, 8.0, 10.0)]).unwrap();
    let expected = (8.5 * 7.5 / (2.5 * 3.5_f64)).ln();
    assert_abs_diff_eq!(fit.terms[0].coefficient, expected, epsilon = 1e-8);
    let fit = one(&[(0.0, 5.0, 10.0), (1.0, 10.0, 10.0)]).unwrap();
    let expected = (10.5 * 5.5 / (0.5 * 5.5_f64)).ln();
    assert_abs_diff_eq!(fit.terms[0].coefficient, expected, epsilon = 1e-8);
}

/// Of many counts the penalty is a small part: with each case a million times over, coefficients and
/// standard errors are those of a statistics package without a penalty, by
/// `tests/reference/logistic_spector.py` (W. H. Greene, *Econometric Analysis*, prints -13.021, 2.826,
/// 0.095, 2.379).
#[test]
fn many_trials_leave_nothing_of_the_penalty() {
    const TIMES: f64 = 1e6;
    let rows: Vec<_> = cases(SPECTOR)
        .into_iter()
        .map(|(x, successes, trials)| (x, TIMES * successes, TIMES * trials))
        .collect();
    let fit = fit(&["GPA", "TUCE", "PSI"], 1.0, &rows).unwrap();
    close(fit.constant, -13.021_346_858_115_7, 1e-5);
    close(
        fit.constant_standard_error * TIMES.sqrt(),
        4.931_324_213_602_72,
        1e-5,
    );
    for (term, (b, error)) in fit.terms.iter().zip([
        (2.826_112_594_889_323, 1.262_941_075_629_075),
        (0.095_157_661_317_909, 0.141_554_205_673_696),
        (2.378_687_655_093_354, 1.064_564_254_497_131),
    ]) {
        close(term.coefficient, b, 1e-5);
        close(term.standard_error * TIMES.sqrt(), error, 1e-5);
    }
}

#[test]
fn separation_is_told_from_a_steep_rate() {
    let kind = |points: &[(f64, f64, f64)]| one(points).unwrap().separation;
    let complete = [(0.0, 0.0, 5.0), (1.0, 0.0, 5.0), (2.0, 5.0, 5.0)];
    assert_eq!(kind(&complete), Separation::Complete);
    let touching = [(0.0, 0.0, 5.0), (1.0, 2.0, 5.0), (2.0, 5.0, 5.0)];
    assert_eq!(kind(&touching), Separation::QuasiComplete);
    // One trial in ten thousand on the other side bounds the odds ratio.
    let steep = [(0.0, 1.0, 1e4), (1.0, 2e3, 1e4), (2.0, 9999.0, 1e4)];
    assert_eq!(kind(&steep), Separation::None);
    let overlapping = [
        (0.0, 0.0, 5.0),
        (1.0, 2.0, 5.0),
        (2.0, 5.0, 5.0),
        (3.0, 4.0, 5.0),
    ];
    assert_eq!(kind(&overlapping), Separation::None);
}

#[test]
fn what_cannot_be_fitted_is_said() {
    let reason = |points: &[(f64, f64, f64)]| one(points).unwrap_err();
    assert_eq!(
        reason(&[(0.0, 0.0, 5.0), (1.0, 0.0, 5.0)]),
        NotFitted::AllAlike
    );
    assert_eq!(
        reason(&[(1.0, 2.0, 5.0), (1.0, 3.0, 5.0)]),
        NotFitted::Dependent
    );
    let sum = |a: f64, b: f64, s: f64| (vec![a, b, a + b], s, 5.0);
    let rows = [
        sum(0.0, 1.0, 2.0),
        sum(1.0, 0.0, 3.0),
        sum(2.0, 2.0, 1.0),
        sum(1.0, 2.0, 4.0),
    ];
    assert_eq!(
        fit(&["a", "b", "c"], 1.0, &rows).unwrap_err(),
        NotFitted::Dependent
    );
}
