//! File operations that the store needs, so that a test can stop after any one of them.

use std::ffi::OsString;
use std::fmt::{Debug, Write as _};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use sha2::{Digest, Sha256};

use super::lock::{Lock, lock};
use crate::study::progress::note;

/// Threads that bring files to the disk at the same time; they wait for the disk, not for a core.
const SEALERS: usize = 8;

/// What stands at a path; links are not followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PathKind {
    /// A regular file.
    File,
    /// A folder.
    Folder,
    /// A link, a device, anything else.
    Other,
}

/// Length and hash of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fingerprint {
    /// Length in bytes.
    pub bytes: u64,
    /// SHA-256, hexadecimal.
    pub sha256: String,
}

impl Fingerprint {
    /// The fingerprint of these bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self {
            bytes: bytes.len() as u64,
            sha256: hexadecimal(&Sha256::digest(bytes)),
        }
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// A file that grows at its end.
pub trait Append: Debug + Send {
    /// Writes at the end.
    ///
    /// # Errors
    ///
    /// The failure of the write; a part may have been written.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Cuts the file off at a length in bytes.
    ///
    /// # Errors
    ///
    /// What the system says.
    fn cut(&mut self, length: u64) -> io::Result<()>;

    /// Returns once the content is on the disk.
    ///
    /// # Errors
    ///
    /// What the system says.
    fn sync(&mut self) -> io::Result<()>;
}

/// File operations. None follows a link at the end of its path but [`Disk::create`],
/// [`Disk::append`] and the reading ones.
///
/// # Errors
///
/// Every operation returns what the system says.
#[expect(missing_docs, reason = "each is the operation of its name in std::fs")]
pub trait Disk: Debug + Send + Sync {
    /// What stands at a path, if anything.
    fn kind(&self, path: &Path) -> io::Result<Option<PathKind>>;
    /// Names in a folder with what they are, sorted.
    fn list(&self, folder: &Path) -> io::Result<Vec<(OsString, PathKind)>>;
    fn read(&self, path: &Path) -> io::Result<Vec<u8>>;
    /// At most so many bytes from the beginning of a file.
    fn read_start(&self, path: &Path, most: usize) -> io::Result<Vec<u8>>;
    /// Length of a file in bytes.
    fn length(&self, path: &Path) -> io::Result<u64>;
    fn fingerprint(&self, path: &Path) -> io::Result<Fingerprint>;
    /// Creates a file, or empties it, and writes these bytes.
    fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;
    /// Opens a file, which is created where there is none, to write at its end.
    fn append(&self, path: &Path) -> io::Result<Box<dyn Append>>;
    /// Returns once the content of a file, or the names in a folder, are on the disk.
    fn sync(&self, path: &Path) -> io::Result<()>;
    /// Creates one folder; fails where anything is there.
    fn create_folder(&self, path: &Path) -> io::Result<()>;
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Moves what is no folder; fails where anything is at `to`, and replaces nothing.
    fn move_to_free(&self, from: &Path, to: &Path) -> io::Result<()>;
    fn remove_file(&self, path: &Path) -> io::Result<()>;
    /// Removes an empty folder.
    fn remove_folder(&self, path: &Path) -> io::Result<()>;
    /// A number that was not drawn before.
    fn draw(&self) -> u64;
    /// Tells the person who waits.
    fn tell(&self, line: &str) {
        note(line);
    }
    /// Takes the lock that the file at `path` stands for; `None` where it is taken.
    fn lock(&self, path: &Path) -> io::Result<Option<Box<dyn Lock>>>;

    /// Brings the content of files to the disk and returns their fingerprints.
    fn seal(&self, paths: &[PathBuf]) -> Vec<io::Result<Fingerprint>> {
        let seal = |path: &PathBuf| self.sync(path).and_then(|()| self.fingerprint(path));
        paths.iter().map(seal).collect()
    }
}

/// The file system.
#[derive(Debug, Clone, Copy)]
pub struct RealDisk;

impl Disk for RealDisk {
    fn kind(&self, path: &Path) -> io::Result<Option<PathKind>> {
        match fs::symlink_metadata(path) {
            Ok(found) => Ok(Some(kind(found.file_type()))),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(e) => Err(e),
        }
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<(OsString, PathKind)>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            names.push((entry.file_name(), kind(entry.file_type()?)));
        }
        names.sort_by(|a, b| a.0.cmp(&b.0));
        Ok(names)
    }

    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        fs::read(path)
    }

    fn read_start(&self, path: &Path, most: usize) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        File::open(path)?
            .take(most as u64)
            .read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn length(&self, path: &Path) -> io::Result<u64> {
        Ok(fs::metadata(path)?.len())
    }

    fn fingerprint(&self, path: &Path) -> io::Result<Fingerprint> {
        let mut file = File::open(path)?;
        let mut hasher = Sha256::new();
        let mut block = vec![0_u8; 1 << 16];
        let mut bytes = 0;
        loop {
            let read = file.read(&mut block)?;
            if read == 0 {
                break;
            }
            hasher.update(&block[..read]);
            bytes += read as u64;
        }
        Ok(Fingerprint {
            bytes,
            sha256: hexadecimal(&hasher.finalize()),
        })
    }

    fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        fs::write(path, bytes)
    }

    fn append(&self, path: &Path) -> io::Result<Box<dyn Append>> {
        let file = OpenOptions::new().append(true).create(true).open(path)?;
        Ok(Box::new(file))
    }

    fn sync(&self, path: &Path) -> io::Result<()> {
        // Folders cannot be opened as files everywhere; where they cannot, their names are written
        // with what is in them.
        match File::open(path) {
            Ok(file) => file.sync_all(),
            Err(_) if path.is_dir() => Ok(()),
            Err(e) => Err(e),
        }
    }

    fn create_folder(&self, path: &Path) -> io::Result<()> {
        fs::create_dir(path)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn move_to_free(&self, from: &Path, to: &Path) -> io::Result<()> {
        match fs::hard_link(from, to) {
            Ok(()) => fs::remove_file(from),
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => Err(e),
            // A file system without hard links.
            Err(_) if self.kind(to)?.is_some() => Err(io::ErrorKind::AlreadyExists.into()),
            Err(_) => fs::rename(from, to),
        }
    }

    fn remove_file(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        fs::remove_dir(path)
    }

    fn draw(&self) -> u64 {
        rand::random()
    }

    fn lock(&self, path: &Path) -> io::Result<Option<Box<dyn Lock>>> {
        lock(path)
    }

    fn seal(&self, paths: &[PathBuf]) -> Vec<io::Result<Fingerprint>> {
        let next = AtomicUsize::new(0);
        let sealed = Mutex::new(Vec::with_capacity(paths.len()));
        let work = || {
            while let Some((at, path)) = {
                let at = next.fetch_add(1, Ordering::Relaxed);
                paths.get(at).map(|path| (at, path))
            } {
                let one = self.sync(path).and_then(|()| self.fingerprint(path));
                let mut sealed = sealed.lock().unwrap_or_else(PoisonError::into_inner);
                sealed.push((at, one));
            }
        };
        std::thread::scope(|scope| {
            for _ in 0..SEALERS.min(paths.len()) {
                scope.spawn(work);
            }
        });
        let mut sealed = sealed.into_inner().unwrap_or_else(PoisonError::into_inner);
        sealed.sort_by_key(|(at, _)| *at);
        sealed.into_iter().map(|(_, one)| one).collect()
    }
}

impl Append for File {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.write_all(bytes)
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        self.set_len(length)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }
}

fn kind(found: fs::FileType) -> PathKind {
    if found.is_file() {
        PathKind::File
    } else if found.is_dir() {
        PathKind::Folder
    } else {
        PathKind::Other
    }
}
