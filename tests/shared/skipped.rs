//! Says that a test has been left out, so that it is not taken for one that has passed.

use std::io::Write as _;

/// Says on standard error which test is skipped and why. The line is written past the test harness,
/// which keeps what passing tests print; `.ci/run` counts these lines.
pub fn skipped(why: &str) {
    let thread = std::thread::current();
    let test = thread.name().unwrap_or("a test");
    // One write, so that lines of tests on other threads do not come in between.
    let line = format!("SKIPPED: {test}: {why}\n");
    let _ = std::io::stderr().write_all(line.as_bytes());
}
