//! A file system in memory that forgets what was not synchronised when its power is cut.
//!
//! After a power cut the names are those of some moment since the last time a folder was brought
//! to the disk, as on a file system that keeps a journal of its names, and a file has what was
//! synchronised of it and any part of what came after.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::Dice;

pub type Names = BTreeMap<PathBuf, Option<usize>>;

#[derive(Debug, Clone, Default)]
pub struct Content {
    pub now: Vec<u8>,
    pub safe: Vec<u8>,
}

#[derive(Debug, Clone, Default)]
pub struct State {
    /// A folder is `None`, a file the number of its content.
    pub names: Names,
    pub contents: Vec<Content>,
    /// Names since a folder was last synchronised, the oldest first.
    pub past: Vec<Names>,
    pub locks: BTreeSet<PathBuf>,
    pub drawn: u64,
}

/// The file system.
#[derive(Debug, Default)]
pub struct World(Mutex<State>);

impl Clone for World {
    fn clone(&self) -> Self {
        Self(Mutex::new(self.state().clone()))
    }
}

impl World {
    /// An empty file system with one folder.
    pub fn with_folder(folder: &Path) -> Self {
        let world = Self::default();
        world.state().names.insert(folder.to_owned(), None);
        world
    }

    pub fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Every file with its bytes.
    pub fn files(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let state = self.state();
        let files = state.names.iter();
        files
            .filter_map(|(path, node)| Some((path.clone(), state.contents[(*node)?].now.clone())))
            .collect()
    }

    pub fn has(&self, path: &Path) -> bool {
        self.state().names.contains_key(path)
    }

    /// Cuts the power: whatever was not brought to the disk may be lost.
    pub fn cut_power(&self, dice: &mut Dice) {
        let mut state = self.state();
        let moments = state.past.len() + 1;
        let moment = dice.below(moments);
        if moment < state.past.len() {
            state.names = state.past[moment].clone();
        }
        state.past.clear();
        state.locks.clear();
        for content in &mut state.contents {
            let least = if content.now.starts_with(&content.safe) {
                content.safe.len()
            } else {
                0
            };
            let length = least + dice.below(content.now.len() - least + 1);
            content.now.truncate(length);
            content.safe = content.now.clone();
        }
    }

    /// What a user does is on the disk at once.
    pub fn settle(&self) {
        let mut state = self.state();
        state.past.clear();
        for content in &mut state.contents {
            if content.safe != content.now {
                content.safe = content.now.clone();
            }
        }
    }

    /// Removes a path and everything below it.
    pub fn remove_all(&self, path: &Path) {
        self.state().names.retain(|name, _| !name.starts_with(path));
    }
}

impl State {
    pub fn parent_is_folder(&self, path: &Path) -> io::Result<()> {
        match path.parent().map(|parent| self.names.get(parent)) {
            Some(Some(None)) => Ok(()),
            Some(Some(Some(_))) => Err(ErrorKind::NotADirectory.into()),
            _ => Err(ErrorKind::NotFound.into()),
        }
    }

    pub fn file(&self, path: &Path) -> io::Result<usize> {
        match self.names.get(path) {
            Some(Some(number)) => Ok(*number),
            Some(None) => Err(ErrorKind::IsADirectory.into()),
            None => Err(ErrorKind::NotFound.into()),
        }
    }

    pub fn is_empty_folder(&self, path: &Path) -> bool {
        let mut below = self.names.range(path.to_owned()..).skip(1);
        below.next().is_none_or(|(name, _)| !name.starts_with(path))
            && !self
                .names
                .keys()
                .any(|name| name != path && name.starts_with(path))
    }

    /// To be called before names change.
    pub fn remember(&mut self) {
        let names = self.names.clone();
        self.past.push(names);
    }

    pub fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
        self.parent_is_folder(to)?;
        let node = self.names.get(from).ok_or(ErrorKind::NotFound)?;
        match (node, self.names.get(to)) {
            (_, None) | (Some(_), Some(Some(_))) => {}
            (Some(_), Some(None)) => return Err(ErrorKind::IsADirectory.into()),
            (None, Some(Some(_))) => return Err(ErrorKind::NotADirectory.into()),
            (None, Some(None)) if self.is_empty_folder(to) => {}
            (None, Some(None)) => return Err(ErrorKind::DirectoryNotEmpty.into()),
        }
        self.remember();
        self.names.remove(to);
        let names = std::mem::take(&mut self.names);
        let moved = names.into_iter().map(|(path, node)| {
            let path = match path.strip_prefix(from) {
                Ok(rest) if rest.as_os_str().is_empty() => to.to_owned(),
                Ok(rest) => to.join(rest),
                Err(_) => path,
            };
            (path, node)
        });
        self.names = moved.collect();
        Ok(())
    }

    pub fn create(&mut self, path: &Path) -> io::Result<usize> {
        self.parent_is_folder(path)?;
        match self.file(path) {
            Err(e) if e.kind() == ErrorKind::NotFound => {
                self.remember();
                let number = self.contents.len();
                self.contents.push(Content::default());
                self.names.insert(path.to_owned(), Some(number));
                Ok(number)
            }
            found => found,
        }
    }
}
