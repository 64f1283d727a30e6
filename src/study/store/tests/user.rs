//! A user who works in the folders of a command.

use std::path::Path;
use std::sync::Arc;

use super::Dice;
use super::fake::World;
use super::model::{BASE, Model, PARTIAL, TARGET, has_all};
use super::process::Process;
use crate::study::store::disk::{Disk, PathKind};

/// Places at which the user writes files.
const PLACES: [&str; 9] = [
    "out/notes",
    "out/deep/notes",
    "out/figures/notes",
    "out/trials.csv",
    "out/summary.json",
    "out.partial/notes",
    "out.partial/traces/notes",
    "out.previous/notes",
    "elsewhere/notes",
];

/// The user does something; `alone` where no command works at the same time.
pub fn user(world: &Arc<World>, model: &mut Model, dice: &mut Dice, alone: bool) -> &'static str {
    let disk = Process::new(world, usize::MAX);
    let files = world.files();
    let done = match dice.below(if alone { 16 } else { 8 }) {
        0..6 => {
            let path = Path::new(BASE).join(dice.one_of(&PLACES));
            put(&disk, world, model, &path, alone)
        }
        6 => {
            let count = model.own.len();
            let chosen = model.own.keys().nth(dice.below(count.max(1))).cloned();
            if let Some(text) = chosen {
                model.own.remove(&text);
                let place = files.iter().find(|(_, bytes)| **bytes == text.as_bytes());
                if let Some((path, _)) = place {
                    let _ = disk.remove_file(path);
                }
            }
            "user removes a file of its own"
        }
        7 => {
            let _ = disk.create_folder(Path::new(TARGET));
            "user makes the target"
        }
        8 => {
            let names: Vec<String> = model.result.keys().cloned().collect();
            if !names.is_empty() {
                let name = &names[dice.below(names.len())];
                if disk.remove_file(&Path::new(TARGET).join(name)).is_ok() {
                    model.result.remove(name);
                    model.disturbed = true;
                }
            }
            "user removes a file of the result"
        }
        9 => {
            let goal = Path::new(BASE).join(format!("kept-{}", model.written));
            model.written += 1;
            if disk.rename(Path::new(TARGET), &goal).is_ok() {
                model.result.clear();
                model.disturbed = true;
            }
            "user renames the target"
        }
        10 => {
            take_away(world, model, TARGET);
            model.result.clear();
            "user removes the target"
        }
        11 => {
            take_away(world, model, PARTIAL);
            model.kept = None;
            // With it goes what says where the older result stands in the middle of a swap.
            if !has_all(world, Path::new(TARGET), &model.result) {
                model.result.clear();
            }
            "user removes the work folder"
        }
        _ => {
            for (path, bytes) in files {
                let text = String::from_utf8(bytes).unwrap_or_default();
                let is_in_the_way = path.starts_with(TARGET) || path.starts_with(PARTIAL);
                if is_in_the_way && model.own.remove(&text).is_some() {
                    let _ = disk.remove_file(&path);
                }
            }
            let _ = disk.remove_folder(Path::new("/w/out/deep"));
            "user tidies up"
        }
    };
    for (path, bytes) in world.files() {
        if let Ok(text) = String::from_utf8(bytes) {
            model.own.entry(text).and_modify(|place| *place = path);
        }
    }
    world.settle();
    done
}

fn put(disk: &Process, world: &World, model: &mut Model, path: &Path, alone: bool) -> &'static str {
    let is_file = matches!(disk.kind(path), Ok(Some(PathKind::File)));
    let below_work = path.starts_with(PARTIAL);
    let before = world.files().get(path).cloned().unwrap_or_default();
    let before = String::from_utf8(before).unwrap_or_default();
    if is_file && !model.own.contains_key(&before) {
        // A change in the instant between the program's look at a file and its next operation
        // cannot be seen; what somebody writes into the journal is a matter of checksums.
        if !alone || below_work {
            return "user does nothing";
        }
        let name = path.strip_prefix(TARGET).unwrap_or(path);
        model.result.remove(&*name.to_string_lossy());
        model.disturbed = true;
    }
    let folder = path.parent().unwrap_or(path);
    if !below_work
        || disk
            .kind(Path::new(PARTIAL))
            .is_ok_and(|kind| kind.is_some())
    {
        let _ = disk.create_folder(folder.parent().unwrap_or(folder));
        let _ = disk.create_folder(folder);
    }
    let text = format!("user's file {}", model.written);
    model.written += 1;
    if disk.create(path, text.as_bytes()).is_ok() {
        model.own.remove(&before);
        model.own.insert(text, path.to_owned());
    }
    "user writes a file"
}

/// Removes a folder with whatever the user has in it.
fn take_away(world: &World, model: &mut Model, folder: &str) {
    for (path, bytes) in world.files() {
        if path.starts_with(folder) {
            model.own.remove(&*String::from_utf8_lossy(&bytes));
        }
    }
    world.remove_all(Path::new(folder));
    model.disturbed = true;
}
