//! Commands without physics, that keep their work as the real ones do.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use crate::scenario::sweep::model::DesignKind;
use crate::study::error::{KeepError, StudyError};
use crate::study::journal::{Journal, JournalEntry};
use crate::study::schedule::Task;
use crate::study::setup::{Part, StrategyLabel, StudyOf, StudySetup};
use crate::study::store::disk::Disk;
use crate::study::store::folder::{Existing, Folders};
use crate::study::store::header::claim;
use crate::study::store::manifest::FileMark;
use crate::study::store::swap::make_folders;
use crate::study::sweep::Design;
use crate::trial::result::{TrialRecord, TrialRow};

pub const TRIALS: u32 = 4;

/// Which command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A run with this seed.
    Run(u64),
    /// A command that keeps nothing before its end.
    Export,
    /// A command that adds to what is there.
    Picture,
}

/// A command as it is given.
#[derive(Debug, Clone, Copy)]
pub struct Job {
    pub what: What,
    pub overwrite: bool,
    /// New trials at most.
    pub limit: usize,
    /// Whether every trial is brought to the disk at once.
    pub syncs: bool,
}

impl Job {
    pub const fn run(seed: u64, overwrite: bool) -> Self {
        Self {
            what: What::Run(seed),
            overwrite,
            limit: usize::MAX,
            syncs: true,
        }
    }
}

/// What a command reports while it works.
#[derive(Debug)]
pub enum Event<'a> {
    /// It has the lock.
    Locked,
    /// It goes on from these trials.
    Opened(&'a BTreeSet<u32>),
    /// This trial is kept.
    Kept(u32),
    /// Everything is written and the swap begins.
    Finishing,
    /// It gives the lock back.
    Unlocking,
}

fn row(seed: u64, trial: u32) -> TrialRow {
    TrialRow {
        strategy: "push, wire".to_owned(),
        trial,
        outside_mm: seed as f64 + 0.1 * f64::from(trial),
        ..TrialRow::default()
    }
}

/// The trace of the first trial.
const TRACE: &str = "traces/push-0.csv";

fn trace(seed: u64) -> Vec<u8> {
    format!("trace of {seed}\n").repeat(3).into_bytes()
}

/// The files that a command leaves.
pub fn result(what: What) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut add = |name: &str, bytes: Vec<u8>| files.insert(name.to_owned(), bytes);
    match what {
        What::Run(seed) => {
            let rows: Vec<String> = (0..TRIALS)
                .map(|trial| format!("{:?}\n", row(seed, trial)))
                .collect();
            add("trials.csv", rows.concat().into_bytes());
            add("summary.json", format!("summary of {seed}\n").into_bytes());
            add("figures/rate.svg", format!("figure of {seed}").into_bytes());
            add(TRACE, trace(seed));
        }
        What::Export => {
            add("lumen.stl", b"a wall".to_vec());
            add("summary.json", b"of an export".to_vec());
        }
        What::Picture => {
            add("tree.png", b"a tree".to_vec());
        }
    }
    files
}

/// Carries a command out; true where it was completed.
pub fn carry_out(
    disk: Arc<dyn Disk>,
    target: &Path,
    job: Job,
    tell: &mut dyn FnMut(Event<'_>),
) -> Result<bool, StudyError> {
    let existing = match (job.what, job.overwrite) {
        (What::Picture, _) => Existing::Add,
        (_, true) => Existing::Replace,
        (_, false) => Existing::Refuse,
    };
    let mut folders = Folders::on(disk, target, existing)?;
    folders.sync_every(if job.syncs {
        Duration::ZERO
    } else {
        Duration::MAX
    });
    tell(Event::Locked);
    let done = match job.what {
        What::Run(seed) => run(&folders, seed, job.limit, tell),
        What::Export | What::Picture => {
            let work = if job.what == What::Export {
                "export"
            } else {
                "picture"
            };
            claim(&folders, work).map(|()| true)
        }
    };
    let done = done.and_then(|done| {
        if done {
            let failed = |e: KeepError| e.into_study_error(folders.partial(), 1, 1);
            write(&folders, job.what).map_err(failed)?;
            tell(Event::Finishing);
            folders.complete().map_err(failed)?;
        }
        Ok(done)
    });
    tell(Event::Unlocking);
    done
}

fn part(seed: u64) -> Part {
    Part::whole(StudySetup {
        version: "1".to_owned(),
        build: "test".to_owned(),
        of: StudyOf::Scenario,
        description: String::new(),
        scenario: "made-up".to_owned(),
        origin: "invented".to_owned(),
        content_hash: "0123".to_owned(),
        seed,
        points: 1,
        trials: TRIALS,
        recorded: 1,
        until_width: None,
        strategies: vec![StrategyLabel {
            name: "push, wire".to_owned(),
            slug: "push-wire".to_owned(),
            technique: "push".to_owned(),
            wire: "wire".to_owned(),
        }],
        design: Design {
            kind: DesignKind::Grid,
            seed,
            parameters: Vec::new(),
        },
        map: None,
        search: None,
        files: Vec::new(),
    })
}

/// Computes what is missing; true where nothing is missing any more.
fn run(
    folders: &Folders,
    seed: u64,
    limit: usize,
    tell: &mut dyn FnMut(Event<'_>),
) -> Result<bool, StudyError> {
    let mut journal = Journal::open(folders, &part(seed))?;
    let failed = |e: KeepError| e.into_study_error(folders.partial(), 1, 1);
    let mut kept = BTreeSet::new();
    let mut marks = Vec::new();
    for ((_, trial), finished) in journal.kept(0).map_err(failed)?.trials {
        assert_eq!(finished.row, row(seed, trial), "a false trial");
        kept.insert(trial);
        marks.extend(finished.files);
    }
    tell(Event::Opened(&kept));
    let missing: Vec<u32> = (0..TRIALS).filter(|trial| !kept.contains(trial)).collect();
    let complete = missing.len() <= limit;
    for trial in missing.into_iter().take(limit) {
        let files = match trial {
            0 => vec![put(folders, TRACE, &trace(seed)).map_err(failed)?],
            _ => Vec::new(),
        };
        marks.extend(files.clone());
        let task = Task {
            point: 0,
            strategy: 0,
            trial,
        };
        let record = TrialRecord {
            row: row(seed, trial),
            ..TrialRecord::default()
        };
        let entry = JournalEntry::finished(task, record, files);
        journal.append(&entry).map_err(failed)?;
        tell(Event::Kept(trial));
    }
    for mark in marks {
        let holds = mark.holds(folders.disk(), folders.partial());
        if complete && !holds.map_err(|e| failed(KeepError::at(folders.partial())(e)))? {
            put(folders, TRACE, &trace(seed)).map_err(failed)?;
        }
    }
    Ok(complete)
}

/// Writes a file of the result as the program's own.
fn put(folders: &Folders, name: &str, bytes: &[u8]) -> Result<FileMark, KeepError> {
    let path = folders.partial().join(name);
    folders.announce(&[name.to_owned()])?;
    let write = || {
        make_folders(folders.disk(), path.parent().unwrap_or(&path))?;
        folders.disk().create(&path, bytes)?;
        folders.disk().fingerprint(&path)
    };
    let found = write().map_err(KeepError::at(&path))?;
    Ok(FileMark::new(name.to_owned(), found))
}

fn write(folders: &Folders, what: What) -> Result<(), KeepError> {
    for (name, bytes) in result(what) {
        if name != TRACE {
            put(folders, &name, &bytes)?;
        }
    }
    Ok(())
}
