//! The lock on an output folder: a file beside it, held by the system for as long as the process
//! lives, so that a killed process leaves no lock behind.

use std::fmt::Debug;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::Duration;

/// What a lock file of this program holds; any other file of that name is somebody's own.
const CONTENT: &[u8] = b"bendwise\n";
/// How often a lock is tried that its holder just gave back.
const TRIES: usize = 100;
/// How often a lock is looked at again that somebody holds, and how long is waited between.
const LOOKS: usize = 3;
const MOMENT: Duration = Duration::from_millis(10);

/// A lock, given back when it is dropped.
pub trait Lock: Debug + Send + Sync {}

/// A lock file that this process holds.
#[derive(Debug)]
struct Held {
    _file: File,
    path: PathBuf,
    is_ours: bool,
}

impl Lock for Held {}

impl Drop for Held {
    fn drop(&mut self) {
        // It is removed while it is held, so that nobody else can hold it; who opened it before
        // sees that it is gone. Left behind it does no harm.
        if self.is_ours && cfg!(unix) {
            let _ = fs::remove_file(&self.path);
        }
    }
}

/// Takes the lock that the file at `path` stands for; `None` where another process has it.
///
/// # Errors
///
/// Where the file can be neither opened nor created.
pub(super) fn lock(path: &Path) -> io::Result<Option<Box<dyn Lock>>> {
    let mut looks = 0;
    for _ in 0..TRIES {
        let Some((mut file, is_new)) = opened(path)? else {
            continue;
        };
        // A file system without locks is no reason to refuse; a lock that stays held is. Who only looks
        // whether it is held has it for a moment.
        if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
            looks += 1;
            if looks > LOOKS {
                return Ok(None);
            }
            sleep(MOMENT);
            continue;
        }
        if !is_at(&file, path) {
            continue;
        }
        let is_ours = if is_new {
            file.write_all(CONTENT)?;
            true
        } else {
            is_ours(&file)?
        };
        return Ok(Some(Box::new(Held {
            _file: file,
            path: path.to_owned(),
            is_ours,
        })));
    }
    Ok(None)
}

/// Whether another process holds the lock of the file at `path`; no where the system does not say.
pub(super) fn is_held(path: &Path) -> bool {
    let file = File::open(path);
    file.is_ok_and(|file| matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock)))
}

/// The file at `path`, and whether it was created just now; `None` where its holder removes it at
/// this moment.
fn opened(path: &Path) -> io::Result<Option<(File, bool)>> {
    let mut options = OpenOptions::new();
    options.read(true).write(true);
    match options.clone().create_new(true).open(path) {
        Ok(file) => return Ok(Some((file, true))),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
        Err(e) => return Err(e),
    }
    match options.open(path) {
        Ok(file) => Ok(Some((file, false))),
        // A link that leads nowhere stays so.
        Err(e) if e.kind() == io::ErrorKind::NotFound && fs::symlink_metadata(path).is_err() => {
            Ok(None)
        }
        Err(e) => Err(e),
    }
}

/// Whether a file that was there already holds what a lock file of this program holds. An empty
/// one may be somebody's own.
fn is_ours(file: &File) -> io::Result<bool> {
    if !file.metadata()?.is_file() {
        return Ok(false);
    }
    let mut content = Vec::new();
    file.take(64).read_to_end(&mut content)?;
    Ok(content == CONTENT)
}

/// Whether the file is still the one at the path, and was not removed by its last holder.
#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (file.metadata(), fs::metadata(path)) {
        (Ok(held), Ok(there)) => (held.dev(), held.ino()) == (there.dev(), there.ino()),
        _ => false,
    }
}

/// Lock files are not removed here, so the file is the one at the path.
#[cfg(not(unix))]
fn is_at(_file: &File, _path: &Path) -> bool {
    true
}
