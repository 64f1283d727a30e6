//! Processes on the file system in memory, which stop after any one of their operations.

use std::ffi::OsString;
use std::fmt::{self, Debug};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::fake::{State, World};
use crate::study::store::disk::{Append, Disk, Fingerprint, PathKind};
use crate::study::store::lock::Lock;

/// What happens between two operations of a process.
pub type Between = Box<dyn FnMut(&Arc<World>) + Send>;

struct Life {
    /// Operations until the process is killed.
    left: usize,
    between: Option<Between>,
}

/// A process on a file system.
#[derive(Clone)]
pub struct Process {
    world: Arc<World>,
    life: Arc<Mutex<Life>>,
}

impl Debug for Process {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Process")
    }
}

/// What becomes of an operation.
#[derive(PartialEq, Eq)]
enum Fate {
    Done,
    /// The process is killed in it.
    Torn,
}

fn killed() -> io::Error {
    io::Error::other("killed")
}

impl Process {
    /// A process that is killed after so many operations that change anything.
    pub fn new(world: &Arc<World>, left: usize) -> Self {
        Self {
            world: Arc::clone(world),
            life: Arc::new(Mutex::new(Life {
                left,
                between: None,
            })),
        }
    }

    /// Has this happen before every operation that changes anything.
    pub fn between(&self, between: Between) {
        self.life().between = Some(between);
    }

    fn life(&self) -> MutexGuard<'_, Life> {
        self.life.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether it was killed.
    pub fn is_dead(&self) -> bool {
        self.life().left == 0
    }

    fn alive(&self) -> io::Result<MutexGuard<'_, State>> {
        if self.is_dead() {
            return Err(killed());
        }
        Ok(self.world.state())
    }

    fn step(&self) -> io::Result<(MutexGuard<'_, State>, Fate)> {
        if self.is_dead() {
            return Err(killed());
        }
        let between = self.life().between.take();
        if let Some(mut between) = between {
            between(&self.world);
            self.life().between = Some(between);
        }
        let mut life = self.life();
        life.left -= 1;
        let fate = if life.left == 0 {
            Fate::Torn
        } else {
            Fate::Done
        };
        Ok((self.world.state(), fate))
    }

    /// A step that is done whole or not at all.
    fn whole(&self) -> io::Result<MutexGuard<'_, State>> {
        match self.step()? {
            (state, Fate::Done) => Ok(state),
            (_, Fate::Torn) => Err(killed()),
        }
    }

    fn write(&self, state: &mut State, number: usize, bytes: &[u8], fate: &Fate) -> io::Result<()> {
        let content = &mut state.contents[number].now;
        match fate {
            Fate::Done => content.extend_from_slice(bytes),
            Fate::Torn => {
                content.extend_from_slice(&bytes[..bytes.len() / 2]);
                return Err(killed());
            }
        }
        Ok(())
    }
}

impl Disk for Process {
    fn kind(&self, path: &Path) -> io::Result<Option<PathKind>> {
        let state = self.alive()?;
        Ok(state.names.get(path).map(|node| match node {
            None => PathKind::Folder,
            Some(_) => PathKind::File,
        }))
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<(OsString, PathKind)>> {
        let state = self.alive()?;
        match state.names.get(folder) {
            Some(None) => {}
            Some(Some(_)) => return Err(ErrorKind::NotADirectory.into()),
            None => return Err(ErrorKind::NotFound.into()),
        }
        let children = state.names.iter().filter_map(|(path, node)| {
            let kind = if node.is_none() {
                PathKind::Folder
            } else {
                PathKind::File
            };
            let is_child = path.parent() == Some(folder);
            is_child.then(|| (path.file_name().unwrap_or_default().to_owned(), kind))
        });
        Ok(children.collect())
    }

    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        let state = self.alive()?;
        let number = state.file(path)?;
        Ok(state.contents[number].now.clone())
    }

    fn read_start(&self, path: &Path, most: usize) -> io::Result<Vec<u8>> {
        let mut bytes = self.read(path)?;
        bytes.truncate(most);
        Ok(bytes)
    }

    fn length(&self, path: &Path) -> io::Result<u64> {
        Ok(self.read(path)?.len() as u64)
    }

    fn fingerprint(&self, path: &Path) -> io::Result<Fingerprint> {
        Ok(Fingerprint::of(&self.read(path)?))
    }

    fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let (mut state, fate) = self.step()?;
        let number = state.create(path)?;
        state.contents[number].now.clear();
        self.write(&mut state, number, bytes, &fate)
    }

    fn append(&self, path: &Path) -> io::Result<Box<dyn Append>> {
        let mut state = self.whole()?;
        Ok(Box::new(Open {
            number: state.create(path)?,
            process: self.clone(),
        }))
    }

    fn sync(&self, path: &Path) -> io::Result<()> {
        let mut state = self.whole()?;
        match state.names.get(path) {
            None => return Err(ErrorKind::NotFound.into()),
            Some(None) => state.past.clear(),
            Some(&Some(number)) => {
                let content = &mut state.contents[number];
                content.safe = content.now.clone();
            }
        }
        Ok(())
    }

    fn create_folder(&self, path: &Path) -> io::Result<()> {
        let mut state = self.whole()?;
        if state.names.contains_key(path) {
            return Err(ErrorKind::AlreadyExists.into());
        }
        state.parent_is_folder(path)?;
        state.remember();
        state.names.insert(path.to_owned(), None);
        Ok(())
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.whole()?.rename(from, to)
    }

    fn move_to_free(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut state = self.whole()?;
        if state.names.contains_key(to) {
            return Err(ErrorKind::AlreadyExists.into());
        }
        state.rename(from, to)
    }

    fn remove_file(&self, path: &Path) -> io::Result<()> {
        let mut state = self.whole()?;
        state.file(path)?;
        state.remember();
        state.names.remove(path);
        Ok(())
    }

    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        let mut state = self.whole()?;
        match state.names.get(path) {
            None => return Err(ErrorKind::NotFound.into()),
            Some(Some(_)) => return Err(ErrorKind::NotADirectory.into()),
            Some(None) if !state.is_empty_folder(path) => {
                return Err(ErrorKind::DirectoryNotEmpty.into());
            }
            Some(None) => {}
        }
        state.remember();
        state.names.remove(path);
        Ok(())
    }

    fn draw(&self) -> u64 {
        let mut state = self.world.state();
        state.drawn += 1;
        state.drawn
    }

    fn tell(&self, _line: &str) {}

    fn lock(&self, path: &Path) -> io::Result<Option<Box<dyn Lock>>> {
        let mut state = self.whole()?;
        if !state.locks.insert(path.to_owned()) {
            return Ok(None);
        }
        Ok(Some(Box::new(Held {
            world: Arc::clone(&self.world),
            path: path.to_owned(),
        })))
    }
}

/// An open file.
#[derive(Debug)]
struct Open {
    number: usize,
    process: Process,
}

impl Append for Open {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        let (mut state, fate) = self.process.step()?;
        self.process.write(&mut state, self.number, bytes, &fate)
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        let mut state = self.process.whole()?;
        let length = usize::try_from(length).unwrap_or(usize::MAX);
        state.contents[self.number].now.truncate(length);
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut state = self.process.whole()?;
        let content = &mut state.contents[self.number];
        content.safe = content.now.clone();
        Ok(())
    }
}

/// A lock, which the system takes back when its process dies.
#[derive(Debug)]
struct Held {
    world: Arc<World>,
    path: PathBuf,
}

impl Lock for Held {}

impl Drop for Held {
    fn drop(&mut self) {
        self.world.state().locks.remove(&self.path);
    }
}
