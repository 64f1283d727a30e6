//! Progress on stderr: a bar with time left on a terminal, a line every 10 % elsewhere.

use std::io::{IsTerminal, Write};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Refreshes of the bar in one second.
const REFRESH_HZ: u8 = 5;
/// Lines over a whole run where there is no terminal.
const LINES: usize = 10;

/// Trials from one line to the next where their number is not known.
const LINE_EVERY: usize = 200;

/// Writes a line on stderr, for the person who waits. Where nobody reads any more, as when the
/// terminal was closed, the line is lost and the work goes on.
pub fn note(line: &str) {
    let _ = writeln!(std::io::stderr(), "{line}");
}

/// Progress of one run.
#[derive(Debug)]
pub struct Progress {
    /// `None` where results decide how many trials there are.
    total: Option<usize>,
    kept: usize,
    done: usize,
    started: Instant,
    display: Display,
}

#[derive(Debug)]
enum Display {
    Silent,
    Bar(ProgressBar),
    Lines,
}

impl Progress {
    /// Starts with `kept` of `total` trials done by an earlier run; no `total` where results
    /// decide how many there are.
    #[must_use]
    pub fn start(total: Option<usize>, kept: usize, quiet: bool) -> Self {
        let display = if quiet {
            Display::Silent
        } else if std::io::stderr().is_terminal() {
            Display::Bar(bar(total, kept))
        } else {
            Display::Lines
        };
        if kept > 0 && !quiet {
            let of = total.map_or(String::new(), |total| format!(" of {total}"));
            note(&format!("{kept}{of} trials are kept from an earlier run"));
        }
        Self {
            total,
            kept,
            done: kept,
            started: Instant::now(),
            display,
        }
    }

    /// One more trial is done.
    pub fn advance(&mut self) {
        let lines = |done: usize| match self.total {
            Some(total) => done * LINES / total.max(1),
            None => done / LINE_EVERY,
        };
        let due = lines(self.done + 1) > lines(self.done);
        self.done += 1;
        match &self.display {
            Display::Silent => {}
            Display::Bar(bar) => bar.inc(1),
            Display::Lines if due => note(&self.line(self.started.elapsed())),
            Display::Lines => {}
        }
    }

    /// Removes the bar.
    pub fn finish(&self) {
        if let Display::Bar(bar) = &self.display {
            bar.finish_and_clear();
        }
    }

    fn line(&self, elapsed: Duration) -> String {
        let Some(total) = self.total else {
            return format!("{} trials", self.done);
        };
        let computed = (self.done - self.kept).max(1);
        let left = elapsed.mul_f64((total - self.done) as f64 / computed as f64);
        format!(
            "{} of {} trials ({} %), about {} left",
            self.done,
            total,
            self.done * 100 / total.max(1),
            words(left)
        )
    }
}

fn bar(total: Option<usize>, kept: usize) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(
        total.map(|total| total as u64),
        ProgressDrawTarget::stderr_with_hz(REFRESH_HZ),
    );
    let template = match total {
        Some(_) => "{bar:32} {pos} of {len} trials, about {eta} left",
        None => "{spinner} {pos} trials",
    };
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style.progress_chars("━╸ "));
    }
    bar.set_position(kept as u64);
    bar.reset_eta();
    bar.enable_steady_tick(Duration::from_millis(500));
    bar
}

/// A duration to the second, in words.
fn words(duration: Duration) -> String {
    let seconds = duration.as_secs_f64().round().min(1e9);
    let minutes = (seconds / 60.0).floor();
    let hours = (minutes / 60.0).floor();
    if hours >= 1.0 {
        format!("{hours} h {} min", minutes - 60.0 * hours)
    } else if minutes >= 1.0 {
        format!("{minutes} min {} s", seconds - 60.0 * minutes)
    } else {
        format!("{seconds} s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_left_counts_only_trials_of_this_run() {
        let progress = Progress {
            total: Some(100),
            kept: 50,
            done: 60,
            started: Instant::now(),
            display: Display::Silent,
        };
        // Ten trials took 20 s, so the other forty take 80 s.
        assert_eq!(
            progress.line(Duration::from_secs(20)),
            "60 of 100 trials (60 %), about 1 min 20 s left"
        );
    }
}
