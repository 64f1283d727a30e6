//! Where work is kept: one discipline for every command that writes a folder.
//!
//! In: a target folder. Out: a lock on it, a work folder beside it with a journal of records, and
//! at the end the target with a manifest of what this program wrote there.
//!
//! Invariant: nothing that this program did not write is removed or replaced, and what it wrote
//! is removed only where it was asked to replace it. After a kill or a power cut the next start
//! knows from what is on the disk how to go on.

mod disk;
mod folder;
pub mod header;
mod lock;
mod manifest;
pub mod record;
pub mod records;
mod swap;
mod written;

pub use disk::{Append, Disk, Fingerprint, PathKind, RealDisk};
pub use folder::{Existing, Folders, work_folder};
pub use lock::Lock;
pub use manifest::{FileMark, MANIFEST, Manifest};
pub use swap::{JOURNAL, ROWS, make_folders};
pub use written::{announce, create, create_file, name_in, write_file};

#[cfg(test)]
mod tests;
