//! What became damaged keeps every trial that can be read, or is refused; other commands let it be.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::fake::World;
use super::process::Process;
use super::work::{Event, Job, What, carry_out};
use crate::study::error::StudyError;
use crate::study::store::disk::Disk;

const TARGET: &str = "/w/out";
const JOURNAL: &str = "/w/out.partial/journal.jsonl";
const ROWS: &str = "/w/out.partial/rows/00000000.jsonl";

/// Carries a command out and counts the trials from which it went on.
fn resumed(world: &Arc<World>, job: Job) -> Result<usize, StudyError> {
    let mut count = 0;
    let disk = Arc::new(Process::new(world, usize::MAX));
    let done = carry_out(disk, Path::new(TARGET), job, &mut |event| {
        if let Event::Opened(trials) = event {
            count = trials.len();
        }
    });
    done.map(|_| count)
}

/// A run of which this many trials are kept.
fn kept(trials: usize) -> World {
    let world = Arc::new(World::with_folder(Path::new("/w")));
    let some = Job {
        limit: trials,
        ..Job::run(1, false)
    };
    assert_eq!(resumed(&world, some).expect("nothing is in the way"), 0);
    world.settle();
    World::clone(&world)
}

fn with_journal(begin: &World, bytes: &[u8]) -> Arc<World> {
    let world = Arc::new(begin.clone());
    let user = Process::new(&world, usize::MAX);
    let made = user.create(Path::new(JOURNAL), bytes);
    made.expect("the folder is there");
    world.settle();
    world
}

/// Files in the work folder that hold trials.
fn trials(world: &World) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = world.files();
    files.retain(|path, _| !path.ends_with("written.jsonl"));
    files
}

fn is_refused(done: &Result<usize, StudyError>) -> bool {
    let said = done.as_ref().err().map(ToString::to_string);
    matches!(done, Err(StudyError::DamagedJournal { .. }))
        && said.is_some_and(|said| said.contains("out.partial") && said.contains("--overwrite"))
}

/// Commands of other kinds, and the same command with another seed.
fn others() -> [Job; 3] {
    let with = |what| Job {
        what,
        ..Job::run(2, false)
    };
    [with(What::Run(2)), with(What::Export), with(What::Picture)]
}

#[test]
fn a_first_line_that_is_damaged_anywhere_costs_no_kept_trial() {
    for count in 1..=3 {
        let begin = kept(count);
        let journal = begin.files()[Path::new(JOURNAL)].clone();
        let end = journal.iter().position(|&b| b == b'\n').expect("a line");
        for at in 0..=end {
            for to in [journal[at] ^ 0x11, b'\n'] {
                let mut changed = journal.clone();
                changed[at] = to;
                if changed == journal {
                    continue;
                }
                let world = with_journal(&begin, &changed);
                let before = trials(&world);
                for job in others() {
                    let done = resumed(&world, job);
                    assert!(is_refused(&done), "{job:?}, byte {at}: {done:?}");
                    assert_eq!(trials(&world), before, "{job:?}, byte {at}");
                }
                let again = resumed(&world, Job::run(1, false));
                assert_eq!(again.ok(), Some(count), "byte {at} is {to}");
            }
        }
    }
}

#[test]
fn a_journal_that_is_cut_off_removes_no_file_of_a_trial() {
    let begin = kept(3);
    let journal = begin.files()[Path::new(JOURNAL)].clone();
    let end = journal.iter().position(|&b| b == b'\n').expect("a line");
    for length in [0, 1, end / 2, end] {
        let world = with_journal(&begin, &journal[..length]);
        let before = trials(&world);
        for job in others() {
            let done = resumed(&world, job);
            assert!(is_refused(&done), "{job:?}, {length} bytes: {done:?}");
            assert_eq!(trials(&world), before, "{job:?}, {length} bytes");
        }
        // With the rows nothing but a trace is left, and nobody knows of which run.
        let without = Arc::new(World::clone(&world));
        let user = Process::new(&without, usize::MAX);
        user.create(Path::new(ROWS), b"")
            .expect("the rows are there");
        let before = trials(&without);
        for job in others().into_iter().chain([Job::run(1, false)]) {
            let done = resumed(&without, job);
            assert!(is_refused(&done), "{job:?}, {length} bytes: {done:?}");
            assert_eq!(trials(&without), before, "{job:?}, {length} bytes");
        }
        let anew = resumed(&without, Job::run(1, true));
        assert_eq!(anew.ok(), Some(0), "{length} bytes");
        let again = resumed(&world, Job::run(1, false));
        assert_eq!(again.ok(), Some(3), "{length} bytes");
    }
}

/// Each byte of the rows in turn is another one.
#[test]
fn a_damaged_row_costs_its_trial_alone() {
    let begin = kept(3);
    let rows = begin.files()[Path::new(ROWS)].clone();
    for at in 0..rows.len() {
        let world = Arc::new(begin.clone());
        let mut changed = rows.clone();
        changed[at] ^= 0x11;
        let user = Process::new(&world, usize::MAX);
        let made = user.create(Path::new(ROWS), &changed);
        made.expect("the folder is there");
        world.settle();
        // A line whose end is gone takes the next one with it.
        let is_end = rows[at] == b'\n';
        let again = resumed(&world, Job::run(1, false)).ok();
        assert!(
            again == Some(2) || is_end && again == Some(1),
            "byte {at}: {again:?}"
        );
    }
}

/// What a kill leaves of the first line while it is written holds nothing.
#[test]
fn a_torn_first_line_without_any_trial_is_begun_anew() {
    let begin = kept(0);
    let journal = begin.files()[Path::new(JOURNAL)].clone();
    for length in [0, 1, journal.len() / 2, journal.len() - 1] {
        for job in others().into_iter().chain([Job::run(1, false)]) {
            let world = with_journal(&begin, &journal[..length]);
            assert_eq!(resumed(&world, job).ok(), Some(0), "{job:?}, {length}");
        }
    }
}
