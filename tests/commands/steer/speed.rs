//! How long a hand waits for its moment.
#![allow(clippy::print_stdout, reason = "the table of times")]

use std::time::{Duration, Instant};

use super::{Page, Server};

/// Processor time in ns that the thread which works a session has used so far; `None` where the system does not
/// tell it.
fn used_ns(server: &Server) -> Option<u64> {
    let tasks = std::fs::read_dir(format!("/proc/{}/task", server.child.id())).ok()?;
    let mut folders = tasks.filter_map(|task| Some(task.ok()?.path()));
    let own = folders.find(|task| {
        std::fs::read_to_string(task.join("comm")).is_ok_and(|name| name.trim() == "hand")
    })?;
    let used = std::fs::read_to_string(own.join("schedstat")).ok()?;
    used.split(' ').next()?.parse().ok()
}

/// Times in ms of movements, which go on until the trial is over or none is left: from the message of the page to
/// its answer, and of the processor meanwhile.
fn times(server: &Server, page: &mut Page, lines: &[&str]) -> [Vec<f64>; 2] {
    let mut times = [Vec::new(), Vec::new()];
    for line in lines {
        let (begun, before) = (Instant::now(), used_ns(server));
        let heard = page.make(line);
        let took: Duration = begun.elapsed();
        if heard["moment"].is_null() {
            continue;
        }
        times[0].push(took.as_secs_f64() * 1e3);
        if let (Some(before), Some(after)) = (before, used_ns(server)) {
            times[1].push((after - before) as f64 / 1e6);
        }
        if heard["moment"]["over"] == true {
            break;
        }
    }
    times
}

/// What so many per cent of the times are not above.
fn percentile(times: &mut [f64], per_cent: usize) -> f64 {
    times.sort_by(f64::total_cmp);
    times[(times.len() - 1) * per_cent / 100]
}

/// A hand that feeds, turns and withdraws, and with a catheter moves that too.
fn hand(catheter: bool) -> Vec<&'static str> {
    let mut lines = Vec::new();
    for round in 0..12 {
        lines.extend(["feed"; 30]);
        if catheter {
            lines.extend(["catheter_feed"; 20]);
            lines.extend(["catheter_turn_deg,5"; 6]);
        }
        lines.extend(["turn_deg,5"; 12]);
        lines.extend(vec!["withdraw"; if round % 3 == 2 { 40 } else { 10 }]);
        if catheter {
            lines.extend(["both_withdraw"; 8]);
        }
    }
    lines
}

#[test]
#[ignore = "measures: it means something on a machine with nothing else to do"]
fn a_hand_waits_for_its_moment() {
    for (name, technique, catheter, limit_ms) in [
        ("published-tree-m1.toml", None, false, 16.0),
        (
            "support-catheters.toml",
            Some("straight catheter"),
            true,
            33.0,
        ),
        (
            "support-catheters.toml",
            Some("steerable catheter"),
            true,
            33.0,
        ),
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        let named = technique
            .map(|name| vec!["--technique", name])
            .unwrap_or_default();
        let server = Server::start(name, &folder.path().join("hand"), &named);
        let times = times(&server, &mut server.page(), &hand(catheter));
        let count = times[0].len();
        for (what, mut times) in ["waited", "of the processor"].into_iter().zip(times) {
            if times.is_empty() {
                continue;
            }
            let late = times.iter().filter(|ms| **ms > limit_ms).count();
            let [half, most, all] = [50, 99, 100].map(|per_cent| percentile(&mut times, per_cent));
            println!(
                "{name} {}, {what}: {count} movements, median {half:.1} ms, 99 % {most:.1} ms, largest {all:.1} \
                 ms; {late} over {limit_ms} ms",
                technique.unwrap_or("")
            );
        }
        assert!(count > 200, "{name}: only {count} movements were made");
    }
}
