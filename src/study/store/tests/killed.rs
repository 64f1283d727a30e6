//! A real process is killed at every operation of a swap on a real file system.

use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::work::{Event, Job, What, carry_out, result};
use crate::study::error::StudyError;
use crate::study::store::disk::{Append, Disk, Fingerprint, PathKind, RealDisk};
use crate::study::store::lock::Lock;

/// The target, and after how many operations of the swap the process ends.
const VARIABLES: [&str; 2] = ["BENDWISE_TEST_TARGET", "BENDWISE_TEST_KILLED_AFTER"];
/// More operations than the swap has.
const MANY: usize = 200;

/// The file system, of which an operation is the last one of the process.
#[derive(Debug)]
struct Deadly {
    left: Arc<AtomicUsize>,
}

impl Deadly {
    fn step(&self) -> RealDisk {
        if self.left.fetch_sub(1, Ordering::SeqCst) == 1 {
            std::process::abort();
        }
        RealDisk
    }
}

impl Disk for Deadly {
    fn kind(&self, path: &Path) -> io::Result<Option<PathKind>> {
        RealDisk.kind(path)
    }
    fn list(&self, folder: &Path) -> io::Result<Vec<(OsString, PathKind)>> {
        RealDisk.list(folder)
    }
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        RealDisk.read(path)
    }
    fn read_start(&self, path: &Path, most: usize) -> io::Result<Vec<u8>> {
        RealDisk.read_start(path, most)
    }
    fn length(&self, path: &Path) -> io::Result<u64> {
        RealDisk.length(path)
    }
    fn fingerprint(&self, path: &Path) -> io::Result<Fingerprint> {
        RealDisk.fingerprint(path)
    }
    fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        self.step().create(path, bytes)
    }
    fn append(&self, path: &Path) -> io::Result<Box<dyn Append>> {
        self.step().append(path)
    }
    fn sync(&self, path: &Path) -> io::Result<()> {
        self.step().sync(path)
    }
    fn create_folder(&self, path: &Path) -> io::Result<()> {
        self.step().create_folder(path)
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.step().rename(from, to)
    }
    fn move_to_free(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.step().move_to_free(from, to)
    }
    fn remove_file(&self, path: &Path) -> io::Result<()> {
        self.step().remove_file(path)
    }
    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        self.step().remove_folder(path)
    }
    fn draw(&self) -> u64 {
        RealDisk.draw()
    }
    fn tell(&self, _line: &str) {}
    fn lock(&self, path: &Path) -> io::Result<Option<Box<dyn Lock>>> {
        RealDisk.lock(path)
    }
}

fn work(left: &Arc<AtomicUsize>, target: &Path, job: Job) -> Result<bool, StudyError> {
    let disk = Deadly {
        left: Arc::new(AtomicUsize::new(usize::MAX)),
    };
    let counter = Arc::clone(&disk.left);
    carry_out(Arc::new(disk), target, job, &mut |event| {
        if matches!(event, Event::Finishing) {
            fs::write(target.join("notes.txt"), "notes").expect("the target is there");
            counter.store(left.load(Ordering::SeqCst), Ordering::SeqCst);
        }
    })
}

/// The process that is killed; does nothing where it is not asked to.
#[test]
#[ignore = "run by the test below"]
fn one_process() {
    let [target, left] = VARIABLES.map(std::env::var);
    if let (Ok(target), Ok(left)) = (target, left) {
        let left = left.parse().expect("a number");
        let done = work(
            &Arc::new(AtomicUsize::new(left)),
            Path::new(&target),
            Job::run(2, true),
        );
        assert!(done.expect("nothing is in the way"));
    }
}

fn holds(folder: &Path, what: What) -> bool {
    let mut wanted = result(what).into_iter();
    wanted.all(|(name, bytes)| fs::read(folder.join(name)).is_ok_and(|found| found == bytes))
}

fn folders(base: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(base).expect("the base is there");
    entries.filter_map(|e| Some(e.ok()?.path())).collect()
}

#[test]
fn a_process_killed_anywhere_in_a_swap_loses_nothing() {
    let program = std::env::current_exe().expect("a test has a program");
    let name = "study::store::tests::killed::one_process";
    let endless = Arc::new(AtomicUsize::new(usize::MAX));
    for after in 1..MANY {
        let base = tempfile::tempdir().expect("a temporary folder");
        let target = base.path().join("out");
        let first = carry_out(Arc::new(RealDisk), &target, Job::run(1, false), &mut |_| {});
        assert!(first.expect("nothing is in the way"));
        let status = Command::new(&program)
            .args(["--ignored", "--exact", name, "--quiet"])
            .env(VARIABLES[0], &target)
            .env(VARIABLES[1], after.to_string())
            .output()
            .expect("the process starts")
            .status;
        let whole = |what| folders(base.path()).iter().any(|f| holds(f, what));
        assert!(whole(What::Run(1)) || whole(What::Run(2)), "after {after}");
        // Whatever command comes next puts it right.
        let next = carry_out(
            Arc::new(Deadly {
                left: Arc::clone(&endless),
            }),
            &target,
            Job::run(3, false),
            &mut |_| {},
        );
        assert!(
            matches!(next, Err(StudyError::TargetExists { .. })),
            "after {after}"
        );
        let is_new = holds(&target, What::Run(2));
        assert!(is_new || holds(&target, What::Run(1)), "after {after}");
        let notes = fs::read_to_string(target.join("notes.txt"));
        assert_eq!(notes.ok().as_deref(), Some("notes"), "after {after}");
        let beside = folders(base.path()).len();
        assert_eq!(beside, if is_new { 1 } else { 2 }, "after {after}");
        if status.success() {
            assert!(
                after > 20 && is_new,
                "{after} operations are too few to be all"
            );
            return;
        }
        // The user takes the notes away, and the same command goes on.
        fs::remove_file(target.join("notes.txt")).expect("the notes are there");
        if !is_new {
            let again = carry_out(Arc::new(RealDisk), &target, Job::run(2, true), &mut |_| {});
            assert!(again.expect("nothing is in the way"), "after {after}");
        }
        assert!(holds(&target, What::Run(2)), "after {after}");
        assert_eq!(folders(base.path()).len(), 1, "after {after}");
    }
    panic!("the swap does not end");
}
