//! What the solver and the trials of the main job cost, in one table: measured, limit, ratio.
//!
//! Times are medians of several rounds on one thread, of processor time where the system tells it; the line of
//! two threads is by the clock and needs a machine with nothing else to do. A line compares with a limit that
//! the project has set itself; no test asks for a time. Counts are exact.
//!
//! The measure of a Newton iteration is one factorisation of a symmetric band with its solution, of as many
//! unknowns: what the linear algebra of an iteration takes at least.

#![allow(clippy::print_stdout, reason = "the table")]

#[path = "costs/iteration.rs"]
mod iteration;
#[path = "shared/resting_wire.rs"]
mod resting_wire;
#[path = "costs/trials.rs"]
mod trials;

/// A line of the table.
struct Line {
    what: &'static str,
    measured: f64,
    limit: (f64, Limit),
}

/// On which side of a limit the measured value is to lie.
#[derive(Clone, Copy)]
enum Limit {
    AtMost,
    AtLeast,
}

impl Line {
    fn print(&self) {
        let (limit, kind) = self.limit;
        let (sign, holds) = match kind {
            Limit::AtMost => ("<=", self.measured <= limit),
            Limit::AtLeast => (">=", self.measured >= limit),
        };
        println!(
            "| {} | {:.2} | {sign} {limit} | {:.2}{} |",
            self.what,
            self.measured,
            self.measured / limit,
            if holds { "" } else { ", missed" }
        );
    }
}

/// Seconds of the processor that this thread has used, where the system tells it (Linux does); other work on
/// the machine counts less in it than in the time on a clock.
fn used() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds: f64 = text.split_whitespace().next()?.parse().ok()?;
    Some(1e-9 * nanoseconds)
}

/// Median of the seconds that `rounds` calls of `run` take, of this thread's processor time if that is known.
fn seconds<T>(rounds: usize, mut run: impl FnMut() -> T) -> f64 {
    let used_by = |run: &mut dyn FnMut() -> T| {
        let before = used();
        let by_clock = by_clock(1, &mut *run);
        let used = used().zip(before).map(|(now, before)| now - before);
        used.unwrap_or(by_clock)
    };
    median((0..rounds).map(|_| used_by(&mut run)).collect())
}

/// Median of the seconds on a clock that `rounds` calls of `run` take; for what is over before the system counts.
fn by_clock<T>(rounds: usize, mut run: impl FnMut() -> T) -> f64 {
    let mut one = || {
        let begin = std::time::Instant::now();
        std::hint::black_box(run());
        begin.elapsed().as_secs_f64()
    };
    median((0..rounds).map(|_| one()).collect())
}

fn median(mut taken: Vec<f64>) -> f64 {
    taken.sort_by(f64::total_cmp);
    taken[taken.len() / 2]
}

fn main() {
    // `cargo bench --no-run` and `cargo test --benches` compile it; only `cargo bench` measures.
    if !std::env::args().any(|a| a == "--bench") {
        return;
    }
    println!("| what | measured | limit | measured over limit |");
    println!("|---|---|---|---|");
    for part in [iteration::lines, trials::main_job, trials::techniques] {
        for line in part() {
            line.print();
        }
    }
}
