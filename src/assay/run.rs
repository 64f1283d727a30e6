//! Carries out the bench tests of all wires of a file, on all cores.

use rayon::prelude::*;
use std::collections::BTreeMap;

use super::measure::{self, Subject};
use super::path::TubeShape;
use super::{AssayError, Measured, PreparedBench, Test};
use crate::scenario::bench::Bench;

/// A piece of work: what one core does at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Job {
    /// One test on one wire.
    One(Test, usize),
    /// Torque response and track of one wire in one tube.
    Tube(TubeShape, usize),
    /// One fit.
    Fit(usize),
}

/// What the tests of a file found.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// Tests in the order of the report; for each a result for every wire.
    pub tests: Vec<(Test, Vec<Measured>)>,
    /// What could not be measured: test, wire, why.
    pub faults: Vec<(Test, usize, AssayError)>,
}

/// Carries out the tests `wanted`. `done` is called after each piece of work.
///
/// The result does not depend on the number of threads.
#[must_use]
pub fn run(prepared: &PreparedBench, wanted: &[Test], done: &(dyn Fn() + Sync)) -> Findings {
    let bench = &prepared.bench;
    let jobs = jobs(bench, wanted);
    let results: Vec<_> = jobs
        .par_iter()
        .with_max_len(1)
        .map(|job| {
            let result = carry_out(*job, prepared, wanted);
            done();
            result
        })
        .collect();
    let mut found: BTreeMap<Test, Vec<Measured>> = BTreeMap::new();
    let mut faults = Vec::new();
    let mut results: Vec<_> = jobs.iter().zip(results).collect();
    // The work begins with the longest tube, the report with the simplest.
    results.sort_by_key(|(job, _)| match job {
        Job::Tube(course, _) => *course as usize,
        Job::One(..) | Job::Fit(_) => TubeShape::ALL.len(),
    });
    for (job, result) in results {
        let (tests, wire) = job_of(*job, bench);
        match result {
            Ok(measured) => {
                for (test, part) in measured {
                    let all = found
                        .entry(test)
                        .or_insert_with(|| vec![Measured::default(); bench.wires.len()]);
                    all[wire].series.extend(part.series);
                    all[wire].readings.extend(part.readings);
                    all[wire].files.extend(part.files);
                    all[wire].remarks.extend(part.remarks);
                    all[wire].fits.extend(part.fits);
                }
            }
            Err(fault) => faults.push((tests, wire, fault)),
        }
    }
    Findings {
        tests: found.into_iter().collect(),
        faults,
    }
}

/// Number of pieces of work of a run.
#[must_use]
pub fn work(bench: &Bench, wanted: &[Test]) -> usize {
    jobs(bench, wanted).len()
}

/// The longest pieces first.
fn jobs(bench: &Bench, wanted: &[Test]) -> Vec<Job> {
    let wires = 0..bench.wires.len();
    let mut jobs = Vec::new();
    if wanted.contains(&Test::Torque) || wanted.contains(&Test::Track) {
        for course in [TubeShape::Tortuous, TubeShape::Bend, TubeShape::Straight] {
            if course != TubeShape::Straight || wanted.contains(&Test::Torque) {
                jobs.extend(wires.clone().map(|wire| Job::Tube(course, wire)));
            }
        }
    }
    if wanted.contains(&Test::Fit) {
        jobs.extend((0..bench.assay.fits.len()).map(Job::Fit));
    }
    for &test in wanted {
        if !matches!(test, Test::Torque | Test::Track | Test::Fit) {
            jobs.extend(wires.clone().map(|wire| Job::One(test, wire)));
        }
    }
    jobs
}

fn job_of(job: Job, bench: &Bench) -> (Test, usize) {
    match job {
        Job::One(test, wire) => (test, wire),
        Job::Tube(_, wire) => (Test::Track, wire),
        Job::Fit(number) => (Test::Fit, bench.assay.fits[number].wire),
    }
}

fn carry_out(
    job: Job,
    prepared: &PreparedBench,
    wanted: &[Test],
) -> Result<Vec<(Test, Measured)>, AssayError> {
    let PreparedBench {
        bench,
        wires,
        curves,
    } = prepared;
    let (_, wire) = job_of(job, bench);
    let on = Subject {
        spec: &bench.wires[wire],
        wire: &wires[wire],
        assay: &bench.assay,
    };
    let (test, measured) = match job {
        Job::Tube(course, _) => return measure::tube(&on, course, wanted),
        Job::Fit(number) => {
            let measured = measure::fitted(&on, &bench.assay.fits[number], &curves[number]);
            (Test::Fit, measured)
        }
        Job::One(test, _) => (test, one(test, &on)),
    };
    measured.map(|measured| vec![(test, measured)])
}

fn one(test: Test, on: &Subject<'_>) -> Result<Measured, AssayError> {
    match test {
        Test::TipLoad => measure::tip_load(on),
        Test::Flexibility => measure::flexibility(on),
        Test::ThreePoint => measure::three_point(on),
        Test::Pinch => measure::pinch(on),
        Test::Kink => measure::kink(on),
        Test::Straightening => measure::straightening(on),
        Test::Torque | Test::Track | Test::Fit => {
            unreachable!("carried out by tube or by curve")
        }
    }
}
