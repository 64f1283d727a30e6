//! Files just under 16 MB, sound, odd and hostile, of every format: how much processor time and memory
//! `check` takes, which are those of a child process as the system tells them.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "the table of the search; where a helper fails the test has failed; all counts are small"
)]

mod formats;
mod lines;
mod solids;
mod surfaces;
mod texts;
mod trees;

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crate::skipped::skipped;

/// Most processor time in s and memory in MB of `check`.
const MOST_SECONDS: f64 = 5.0;
const MOST_MEGABYTES: f64 = 256.0;
/// Largest file in bytes.
const MOST_BYTES: usize = 16 << 20;

/// Files with their names.
type Files = Vec<(String, Vec<u8>)>;

/// Files, and which of them `check` is given.
struct Case {
    name: &'static str,
    file: &'static str,
    make: Box<dyn Fn() -> Files>,
}

impl Case {
    fn new(name: &'static str, file: &'static str, make: impl Fn() -> Files + 'static) -> Self {
        let make = Box::new(make);
        Self { name, file, make }
    }

    fn anatomy(
        name: &'static str,
        file: &'static str,
        make: impl Fn() -> Vec<u8> + 'static,
    ) -> Self {
        Self::new(name, file, move || vec![(file.to_owned(), make())])
    }
}

/// What a process that has ended took.
struct Taken {
    code: Option<i32>,
    said: String,
    seconds: f64,
    megabytes: f64,
}

/// Ticks of a second in which the system counts processor time, on all usual systems.
const TICKS: f64 = 100.0;

/// The largest resident memory in MB of a process so far, while it runs.
fn memory(process: u32) -> Option<f64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1024.0)
}

/// State and processor time in s of a process, which are known until it is waited for.
fn time(process: u32) -> Option<(String, f64)> {
    let all = fs::read_to_string(format!("/proc/{process}/stat")).ok()?;
    // The name, in brackets, may hold blanks.
    let words: Vec<&str> = all.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks = |i: usize| words.get(i)?.parse::<f64>().ok();
    Some((
        (*words.first()?).to_owned(),
        (ticks(11)? + ticks(12)?) / TICKS,
    ))
}

/// Waits for a process, and tells its memory in MB and its time in s; it is ended after a minute of
/// processor time.
fn watched(child: &mut Child) -> (f64, f64) {
    let (mut most, mut seconds) = (0.0_f64, 0.0);
    while let Some((state, so_far)) = time(child.id()) {
        seconds = so_far;
        if state == "Z" {
            break;
        }
        if so_far > 60.0 {
            child.kill().unwrap();
        }
        most = most.max(memory(child.id()).unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(10));
    }
    (most, seconds)
}

/// Writes the files of a case and checks them.
fn taken(case: &Case) -> Taken {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    for (name, bytes) in (case.make)() {
        assert!(
            bytes.len() <= MOST_BYTES,
            "{}: {} bytes",
            case.name,
            bytes.len()
        );
        fs::write(at(&name), bytes).unwrap();
    }
    let mut command = Command::new(env!("CARGO_BIN_EXE_bendwise"));
    command
        .args(["check", case.file])
        .current_dir(folder.path());
    if !case.file.ends_with("toml") {
        command.args(["--units", "mm"]);
    }
    let said = fs::File::create(at("said")).unwrap();
    command
        .stdout(said.try_clone().unwrap())
        .stderr(said)
        .stdin(Stdio::null());
    let mut child = command.spawn().unwrap();
    let (megabytes, seconds) = watched(&mut child);
    let code = child.wait().unwrap().code();
    let said = String::from_utf8_lossy(&fs::read(at("said")).unwrap()).into_owned();
    Taken {
        code,
        said,
        seconds,
        megabytes,
    }
}

/// Checks cases one after the other, prints what each took, and gives those that took more than
/// `most_seconds` of processor time or too much memory, or ended in another way than taken or refused.
fn failures(cases: &[Case], most_seconds: f64) -> Vec<&'static str> {
    let mut failed = Vec::new();
    for case in cases {
        let found = taken(case);
        let refused = found.said.split_whitespace().collect::<Vec<_>>().join(" ");
        let refused: String = refused.chars().take(100).collect();
        println!(
            "{:6.2} s {:6.1} MB  {:6} {:45} {}",
            found.seconds,
            found.megabytes,
            case.file,
            case.name,
            if found.code == Some(0) {
                "taken"
            } else {
                &refused
            }
        );
        let is_bounded = found.seconds <= most_seconds && found.megabytes <= MOST_MEGABYTES;
        if !(matches!(found.code, Some(0 | 2)) && is_bounded) {
            failed.push(case.name);
        }
    }
    failed
}

/// Whether the system tells what a process takes, and the build is one that is fast.
fn can_measure() -> bool {
    if !Path::new("/proc/self/stat").exists() {
        skipped("this system does not tell what a process takes");
        return false;
    }
    !cfg!(debug_assertions)
}

#[test]
fn a_large_surface_a_large_tree_and_a_hostile_one_are_checked_within_the_bounds() {
    let wanted = [
        "tube inside out, OBJ",
        "comb of short teeth, half of them open",
        "triangles at random",
        "2400 branches in a bed",
        "a sweep over a base of 2400 branches",
    ];
    if can_measure() {
        let mut all = all();
        all.retain(|case| wanted.contains(&case.name));
        assert_eq!(all.len(), wanted.len());
        // Other tests run at the same time, and share the caches: this one finds orders of magnitude.
        assert_eq!(failures(&all, 3.0 * MOST_SECONDS), [""; 0]);
    }
}

/// Every case, with a table: `cargo test --release --test commands large_files -- --ignored --nocapture`.
#[test]
#[ignore = "some minutes"]
fn every_large_file_is_checked_within_the_bounds() {
    if can_measure() {
        assert_eq!(failures(&all(), MOST_SECONDS), [""; 0]);
    }
}

fn all() -> Vec<Case> {
    let all = [surfaces::cases(), trees::cases(), texts::cases()];
    all.into_iter().flatten().collect()
}
