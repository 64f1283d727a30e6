//! A process is killed, or the power is cut, after the n-th operation, for every n.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::Dice;
use super::fake::World;
use super::process::Process;
use super::work::{Event, Job, What, carry_out, result};
use crate::study::error::StudyError;
use crate::study::store::disk::Disk;

const TARGET: &str = "/w/out";
/// More operations than any command here has.
const MANY: usize = 1000;

fn at(name: &str) -> PathBuf {
    Path::new(TARGET).join(name)
}

fn quietly(process: &Process, job: Job) -> Result<bool, StudyError> {
    carry_out(
        Arc::new(process.clone()),
        Path::new(TARGET),
        job,
        &mut |_| {},
    )
}

fn undisturbed(world: &Arc<World>, job: Job) -> Result<bool, StudyError> {
    quietly(&Process::new(world, usize::MAX), job)
}

/// Files of a result that a folder has.
fn holds(world: &World, folder: &Path, what: What) -> bool {
    let files = world.files();
    let wanted = result(what);
    let mut wanted = wanted.iter();
    wanted.all(|(name, bytes)| files.get(&folder.join(name)) == Some(bytes))
}

/// The older result, whole, in the target or in the one folder that it is moved to.
fn older_is_whole(world: &World, what: What) -> bool {
    let files = world.files();
    let mut folders: Vec<PathBuf> = files
        .keys()
        .filter_map(|path| path.ancestors().nth(1).map(Path::to_path_buf))
        .collect();
    folders.dedup();
    folders.iter().any(|folder| holds(world, folder, what))
}

/// How a world is disturbed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stop {
    Kill,
    Cut(u64),
}

/// Lets a command be stopped after every one of its operations, each time from the same beginning;
/// `middle` happens when it has all its files and is about to put them in place.
fn stopped_everywhere(
    begin: &World,
    job: Job,
    stop: Stop,
    middle: fn(&Arc<World>),
    check: &dyn Fn(&Arc<World>, &str, bool),
) -> usize {
    for after in 1..MANY {
        let world = Arc::new(begin.clone());
        let process = Process::new(&world, after);
        let mut finishing = false;
        let done = carry_out(
            Arc::new(process.clone()),
            Path::new(TARGET),
            job,
            &mut |event| {
                if matches!(event, Event::Finishing) {
                    finishing = true;
                    middle(&world);
                }
            },
        );
        if let Stop::Cut(seed) = stop {
            world.cut_power(&mut Dice::new(seed + after as u64));
        }
        let text = format!("{job:?} stopped by {stop:?} after {after}: {done:?}");
        check(&world, &text, finishing);
        if done.is_ok() {
            return after;
        }
    }
    panic!("the command does not end");
}

fn new_world() -> Arc<World> {
    Arc::new(World::with_folder(Path::new("/w")))
}

fn write(world: &Arc<World>, path: &Path, text: &str) {
    let user = Process::new(world, usize::MAX);
    let parent = path.parent().unwrap_or(path);
    let _ = user.create_folder(parent);
    assert!(user.create(path, text.as_bytes()).is_ok(), "{text}");
    world.settle();
}

/// What the user's files hold.
const OWN: [&str; 4] = ["notes", "deep", "my own table", "my own wall"];

fn stops() -> Vec<Stop> {
    let cuts = (0..20).map(|seed| Stop::Cut(seed * 1000));
    std::iter::once(Stop::Kill).chain(cuts).collect()
}

#[test]
fn a_first_result_is_whole_after_a_stop_anywhere_and_the_same_command_again() {
    let job = Job::run(1, false);
    let mut most = 0;
    for stop in stops() {
        let operations = stopped_everywhere(
            &World::with_folder(Path::new("/w")),
            job,
            stop,
            |_| {},
            &|world, text, _| {
                let there = world.has(Path::new(TARGET));
                assert!(
                    !there || holds(world, Path::new(TARGET), job.what),
                    "{text}"
                );
                let again = undisturbed(world, job);
                let is_done = matches!(again, Ok(true) | Err(StudyError::TargetExists { .. }));
                assert!(is_done, "{text}: {again:?}");
                assert!(holds(world, Path::new(TARGET), job.what), "{text}");
                only_the_result(world, job.what, &[], text);
            },
        );
        most = most.max(operations);
    }
    assert!(most > 40, "{most} operations are too few to have been all");
}

/// Nothing but a result with its manifest, and these files.
fn only_the_result(world: &World, what: What, more: &[&str], text: &str) {
    let mut expected: Vec<PathBuf> = result(what).into_keys().map(|name| at(&name)).collect();
    expected.push(at("manifest.jsonl"));
    expected.extend(more.iter().map(|name| at(name)));
    expected.sort();
    let found: Vec<PathBuf> = world.files().into_keys().collect();
    assert_eq!(found, expected, "{text}");
}

#[test]
fn an_older_result_is_whole_until_the_new_one_is_after_a_stop_anywhere() {
    let old = Job::run(1, false);
    let new = Job::run(2, true);
    let begin = new_world();
    assert!(undisturbed(&begin, old).is_ok_and(|done| done));
    begin.settle();
    for stop in stops() {
        stopped_everywhere(&begin, new, stop, |_| {}, &|world, text, _| {
            let whole = holds(world, Path::new(TARGET), new.what);
            assert!(whole || older_is_whole(world, old.what), "{text}");
            // A command of another kind, without leave to replace anything, puts it right too.
            let other = undisturbed(world, Job::run(3, false));
            assert!(
                matches!(other, Err(StudyError::TargetExists { .. })),
                "{text}: {other:?}"
            );
            let kept = if whole { new.what } else { old.what };
            assert!(holds(world, Path::new(TARGET), kept), "{text}");
            let again = undisturbed(world, new);
            assert!(again.is_ok_and(|done| done), "{text}");
            only_the_result(world, new.what, &[], text);
        });
    }
}

/// While the new result is computed a user puts files into the target: one under a free name, one
/// in a folder of its own, one under a name that the new result has too, and one over a file of
/// the old result.
#[test]
fn what_a_user_puts_into_the_target_meanwhile_is_there_after_a_stop_anywhere() {
    let old = Job {
        what: What::Export,
        ..Job::run(0, false)
    };
    let new = Job::run(2, true);
    let begin = new_world();
    assert!(undisturbed(&begin, old).is_ok_and(|done| done));
    write(&begin, Path::new("/w/out.previous/mine.txt"), "older");
    begin.settle();
    let middle = |world: &Arc<World>| {
        write(world, &at("notes.txt"), "notes");
        write(world, &at("deep/notes.txt"), "deep");
        write(world, &at("trials.csv"), "my own table");
        write(world, &at("lumen.stl"), "my own wall");
    };
    for stop in stops() {
        stopped_everywhere(&begin, new, stop, middle, &|world, text, finishing| {
            let place = |name: &str| world.files().get(&at(name)).cloned();
            let everywhere = |wanted: &str| {
                let files = world.files();
                assert!(
                    files.values().any(|bytes| bytes == wanted.as_bytes()),
                    "{wanted} is lost: {text}"
                );
            };
            everywhere("older");
            if finishing {
                OWN.into_iter().for_each(everywhere);
                let other = undisturbed(world, Job::run(3, false));
                let refused = matches!(other, Err(StudyError::TargetExists { .. }));
                assert!(refused, "{text}: {other:?}");
                OWN.into_iter().for_each(everywhere);
                assert_eq!(place("notes.txt").as_deref(), Some(&b"notes"[..]), "{text}");
                assert_eq!(place("deep/notes.txt").as_deref(), Some(&b"deep"[..]));
                assert_eq!(place("lumen.stl").as_deref(), Some(&b"my own wall"[..]));
                let again = undisturbed(world, new);
                assert!(
                    matches!(again, Err(StudyError::TargetHoldsOthers { .. })),
                    "{text}: {again:?}"
                );
            }
            let previous = world.files();
            let kept = previous.get(Path::new("/w/out.previous/mine.txt"));
            assert_eq!(kept.map(Vec::as_slice), Some(&b"older"[..]));
        });
    }
}

#[test]
fn a_picture_comes_to_what_is_there_after_a_stop_anywhere() {
    let picture = Job {
        what: What::Picture,
        ..Job::run(0, false)
    };
    let begin = new_world();
    assert!(undisturbed(&begin, Job::run(1, false)).is_ok_and(|done| done));
    write(&begin, &at("notes.txt"), "notes");
    begin.settle();
    for stop in stops() {
        stopped_everywhere(&begin, picture, stop, |_| {}, &|world, text, _| {
            for _ in 0..2 {
                let again = undisturbed(world, picture);
                assert!(again.is_ok_and(|done| done), "{text}");
                assert!(holds(world, Path::new(TARGET), What::Run(1)), "{text}");
                only_the_result(world, What::Run(1), &["notes.txt", "tree.png"], text);
            }
            let replaced = undisturbed(world, Job::run(2, true));
            let Err(StudyError::TargetHoldsOthers { names, .. }) = replaced else {
                panic!("{text}: {replaced:?}");
            };
            assert_eq!(names, "notes.txt", "all else is known as the program's");
        });
    }
    write(&begin, &at("tree.png"), "painted by hand");
    let refused = undisturbed(&begin, picture);
    assert!(refused.is_err_and(|e| e.to_string().contains("tree.png")));
    let files: BTreeMap<_, _> = begin.files();
    assert_eq!(files[&at("tree.png")], b"painted by hand");
}

/// A byte is changed, at every place of every file of the work folder.
#[test]
fn a_changed_byte_anywhere_in_a_work_folder_is_mended_or_refused() {
    let begin = new_world();
    let some = Job {
        limit: 3,
        ..Job::run(1, false)
    };
    assert!(undisturbed(&begin, some).is_ok_and(|done| !done));
    // Stopped while the result is written, so that half of its files are there.
    let process = Process::new(&begin, 12);
    assert!(quietly(&process, Job::run(1, false)).is_err());
    begin.settle();
    let (mut mended, mut refused) = (0, 0);
    for (path, bytes) in begin.files() {
        for place in 0..bytes.len() {
            for change in [0x01, 0x20, 0x80] {
                let mut changed = bytes.clone();
                changed[place] ^= change;
                let world = Arc::new(World::clone(&begin));
                let user = Process::new(&world, usize::MAX);
                assert!(user.create(&path, &changed).is_ok());
                let text = format!("{} at {place} by {change}", path.display());
                match undisturbed(&world, Job::run(1, false)) {
                    Ok(done) => {
                        assert!(
                            done && holds(&world, Path::new(TARGET), What::Run(1)),
                            "{text}"
                        );
                        mended += 1;
                    }
                    Err(error) => {
                        let said = error.to_string();
                        let is_told = said.contains("out.partial") && said.contains("--out");
                        assert!(is_told, "{text}: {said}");
                        refused += 1;
                    }
                }
            }
        }
    }
    eprintln!("{mended} mended, {refused} refused");
    assert!(mended > 1000 && refused < mended / 10);
}
