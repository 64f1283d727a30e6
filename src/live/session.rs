//! The movements of a session on the disk: a file that only grows.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread::{self, JoinHandle};

use thiserror::Error;

use crate::hands::{Entry, MOST_LINES, Made, Movement, Recording};
use crate::input::TEXT_BYTES;
use crate::shown;

/// Name of the file in the folder of a session.
pub const FILE: &str = "session.csv";

/// Why a session cannot be begun or gone on with.
#[derive(Debug, Error)]
pub enum SessionError {
    /// The folder cannot be used.
    #[error("{path} cannot be used as the folder of a session: {cause}")]
    Folder {
        /// Folder or file.
        path: String,
        /// What the system says.
        cause: io::Error,
    },
    /// Something else is in the folder.
    #[error("{0} holds other files and no session; give a folder that is new or empty")]
    Occupied(String),
    /// Another process works it.
    #[error("{0} is worked in another window; close that, or give another folder")]
    Busy(String),
    /// The file is no recording.
    #[error("{path} is no session: {fault}")]
    Unreadable {
        /// The file.
        path: String,
        /// The fault.
        fault: String,
    },
    /// It was made in another scene.
    #[error(
        "{path} holds a session with another {what} (kept {kept:?}, asked for {asked:?}); give another folder, or \
         the command with which it was begun"
    )]
    Other {
        /// The file.
        path: String,
        /// What differs.
        what: &'static str,
        /// What the session has.
        kept: String,
        /// What is asked for.
        asked: String,
    },
}

/// A session that is being worked: what it holds, and the file to which each movement is added before it
/// is made.
#[derive(Debug)]
pub struct Session {
    file: File,
    path: PathBuf,
    recording: Recording,
    syncing: Option<(SyncSender<()>, JoinHandle<()>)>,
}

impl Session {
    /// Begins a session in `folder`, or goes on with the one that is there.
    ///
    /// # Errors
    /// [`SessionError`]. A line that a kill has cut off is no error, it is taken away.
    pub fn open(folder: &Path, made: &Made) -> Result<Self, SessionError> {
        let refused = |path: &Path| {
            let path = shown::path(path);
            move |cause| SessionError::Folder { path, cause }
        };
        fs::create_dir_all(folder).map_err(refused(folder))?;
        let path = folder.join(FILE);
        if !path.exists() {
            let mut others = fs::read_dir(folder).map_err(refused(folder))?;
            if others.next().is_some() {
                return Err(SessionError::Occupied(shown::path(folder)));
            }
        }
        let mut options = OpenOptions::new();
        let options = options.read(true).write(true).create(true).truncate(false);
        let mut file = options.open(&path).map_err(refused(&path))?;
        if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
            return Err(SessionError::Busy(shown::path(folder)));
        }
        let recording = read(&mut file, &path, made).map_err(|error| match error {
            Opened::Io(cause) => refused(&path)(cause),
            Opened::Refused(error) => error,
        })?;
        // A new file is in its folder on the disk too; where a system has no such thing, it needs none.
        let _ = File::open(folder).and_then(|folder| folder.sync_all());
        let syncing = syncing(&file).map_err(refused(&path))?;
        Ok(Self {
            file,
            path,
            recording,
            syncing: Some(syncing),
        })
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The movements that were not taken back.
    #[must_use]
    pub fn movements(&self) -> &[Movement] {
        &self.recording.movements
    }

    /// How often the person went back to an earlier moment.
    #[must_use]
    pub fn went_back(&self) -> usize {
        self.recording.went_back
    }

    /// In which scene they are made.
    #[must_use]
    pub fn made(&self) -> &Made {
        &self.recording.made
    }

    /// Adds one line, as [`Entry::read`] reads it. When this returns the system has it, so that a kill of
    /// the program does not lose it; the disk has it as soon as it can.
    ///
    /// # Errors
    /// Why the line was not taken; the session is as before.
    pub fn add(&mut self, line: &str, entry: Entry) -> Result<(), String> {
        if self.recording.lines >= MOST_LINES {
            return Err(format!("a session has up to {MOST_LINES} movements"));
        }
        let before = self.recording.movements.len();
        if matches!(entry, Entry::BackTo(kept) if kept > before) {
            return Err(format!("there are {before} movements to go back in"));
        }
        let length = self.file.metadata().map(|about| about.len());
        let written = self.file.write_all(format!("{line}\n").as_bytes());
        if let Err(cause) = written {
            // Half a line is taken away, so that the next one begins at a beginning.
            if let Ok(length) = length {
                let _ = self.file.set_len(length);
                let _ = self.file.seek(SeekFrom::Start(length));
            }
            return Err(format!(
                "{} cannot be written: {cause}",
                shown::path(&self.path)
            ));
        }
        if let Some((sync, _)) = &self.syncing {
            // A request that waits already covers this line too.
            let _ = sync.try_send(());
        }
        self.recording.add(entry)
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        if let Some((sync, thread)) = self.syncing.take() {
            drop(sync);
            let _ = thread.join();
        }
        let _ = self.file.sync_all();
    }
}

enum Opened {
    Io(io::Error),
    Refused(SessionError),
}

impl From<io::Error> for Opened {
    fn from(cause: io::Error) -> Self {
        Self::Io(cause)
    }
}

/// Reads what the file holds; a new one gets its first lines.
fn read(file: &mut File, path: &Path, made: &Made) -> Result<Recording, Opened> {
    let unreadable = |fault: String| {
        Opened::Refused(SessionError::Unreadable {
            path: shown::path(path),
            fault,
        })
    };
    let mut bytes = Vec::new();
    file.take(TEXT_BYTES + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > TEXT_BYTES {
        return Err(unreadable("it is too long".to_owned()));
    }
    let kept = bytes
        .iter()
        .rposition(|byte| *byte == b'\n')
        .map_or(0, |at| at + 1);
    let first = made.lines();
    // A kill may have come while the first lines were written.
    if bytes.len() < first.len() && first.as_bytes().starts_with(&bytes) {
        file.set_len(0)?;
        file.seek(SeekFrom::Start(0))?;
        file.write_all(first.as_bytes())?;
        return Recording::read(&first).map_err(|fault| unreadable(fault.to_string()));
    }
    bytes.truncate(kept);
    let text = String::from_utf8(bytes).map_err(|_| unreadable("it is no text".to_owned()))?;
    let recording = Recording::read(&text).map_err(|fault| unreadable(fault.to_string()))?;
    same(path, &recording.made, made).map_err(Opened::Refused)?;
    file.set_len(kept as u64)?;
    file.seek(SeekFrom::Start(kept as u64))?;
    Ok(recording)
}

/// Refuses a session of another scene.
fn same(path: &Path, kept: &Made, asked: &Made) -> Result<(), SessionError> {
    let pairs = [
        ("technique", &kept.technique, &asked.technique),
        ("wire", &kept.wire, &asked.wire),
        ("trial", &kept.trial.to_string(), &asked.trial.to_string()),
        ("seed", &kept.seed.to_string(), &asked.seed.to_string()),
        ("scenario", &kept.scenario, &asked.scenario),
        ("scene", &kept.scene, &asked.scene),
    ];
    match pairs.iter().find(|(_, kept, asked)| kept != asked) {
        None => Ok(()),
        Some((what, kept, asked)) => Err(SessionError::Other {
            path: shown::path(path),
            what,
            kept: (*kept).clone(),
            asked: (*asked).clone(),
        }),
    }
}

/// A thread that brings the file to the disk whenever it is asked to.
fn syncing(file: &File) -> io::Result<(SyncSender<()>, JoinHandle<()>)> {
    let file = file.try_clone()?;
    let (sender, asked) = sync_channel(1);
    let thread = thread::Builder::new().spawn(move || {
        while asked.recv().is_ok() {
            // What a disk refuses here it refuses for the next line too, where it is said.
            let _ = file.sync_data();
        }
    })?;
    Ok((sender, thread))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made() -> Made {
        Made {
            scenario: "s".to_owned(),
            scene: "abc".to_owned(),
            seed: 1,
            trial: 0,
            technique: "push".to_owned(),
            wire: "w".to_owned(),
        }
    }

    fn add(session: &mut Session, line: &str) -> Result<(), String> {
        session.add(line, Entry::read(line).unwrap())
    }

    #[test]
    fn a_session_goes_on_where_a_kill_at_any_byte_left_it() {
        let folder = tempfile::tempdir().unwrap();
        let mut session = Session::open(folder.path(), &made()).unwrap();
        for line in ["feed", "turn_deg,5", "feed", "back_to,1", "withdraw"] {
            add(&mut session, line).unwrap();
        }
        let whole = session.movements().to_vec();
        assert_eq!(whole, [Movement::Feed, Movement::Withdraw]);
        drop(session);
        let bytes = fs::read(folder.path().join(FILE)).unwrap();
        for kept in 0..=bytes.len() {
            let folder = tempfile::tempdir().unwrap();
            fs::write(folder.path().join(FILE), &bytes[..kept]).unwrap();
            let mut session = Session::open(folder.path(), &made()).unwrap();
            let lines = bytes[..kept].iter().filter(|byte| **byte == b'\n').count();
            assert_eq!(
                session.recording.lines,
                lines.saturating_sub(7),
                "{kept} bytes"
            );
            add(&mut session, "feed").unwrap();
            drop(session);
            let again = Session::open(folder.path(), &made()).unwrap();
            assert_eq!(again.movements().last(), Some(&Movement::Feed));
        }
    }

    #[test]
    fn another_scene_another_process_and_other_files_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let session = Session::open(folder.path(), &made()).unwrap();
        assert!(matches!(
            Session::open(folder.path(), &made()),
            Err(SessionError::Busy(_))
        ));
        drop(session);
        let mut other = made();
        other.trial = 1;
        let error = Session::open(folder.path(), &other)
            .unwrap_err()
            .to_string();
        assert!(error.contains("another trial"), "{error}");
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("thesis.txt"), "mine").unwrap();
        assert!(matches!(
            Session::open(folder.path(), &made()),
            Err(SessionError::Occupied(_))
        ));
        fs::write(folder.path().join(FILE), "mine\n").unwrap();
        assert!(matches!(
            Session::open(folder.path(), &made()),
            Err(SessionError::Unreadable { .. })
        ));
    }

    #[test]
    fn nobody_goes_back_to_a_moment_that_has_not_been() {
        let folder = tempfile::tempdir().unwrap();
        let mut session = Session::open(folder.path(), &made()).unwrap();
        add(&mut session, "feed").unwrap();
        assert!(add(&mut session, "back_to,2").is_err());
        assert_eq!(session.movements().len(), 1);
        add(&mut session, "back_to,0").unwrap();
        assert!(session.movements().is_empty());
    }
}
