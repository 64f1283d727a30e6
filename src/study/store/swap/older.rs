//! The end of an older result: what is not the program's moves to the new one, the rest goes.

use std::io;
use std::path::{Path, PathBuf};

use super::super::disk::PathKind;
use super::super::manifest::{MANIFEST, Manifest, joined, manifest_is_own, walk};
use super::Places;
use super::folders::{folders_of, make_folders, remove_if_empty, stays};

impl Places {
    /// Moves what is not the program's from an older target to the new one and removes the rest.
    pub(super) fn remove_older(&self, older: &Path) -> io::Result<()> {
        let disk = &*self.disk;
        if disk.kind(older)? != Some(PathKind::Folder) {
            return Ok(());
        }
        let manifest = Manifest::read(disk, older)?;
        let has_own = disk.kind(&older.join(MANIFEST))?.is_some() && manifest_is_own(disk, older)?;
        self.carry(older, &self.target, "", &manifest)?;
        disk.sync(&self.target)?;
        for name in manifest.names() {
            if manifest.has(disk, older, name)? {
                disk.remove_file(&older.join(name))?;
            }
        }
        for folder in folders_of(manifest.names()).iter().rev() {
            remove_if_empty(disk, &older.join(folder))?;
        }
        if has_own {
            disk.remove_file(&older.join(MANIFEST))?;
        }
        remove_if_empty(disk, older)?;
        self.tell_what_stays(older)
    }

    pub(super) fn tell_what_stays(&self, older: &Path) -> io::Result<()> {
        remove_if_empty(&*self.disk, older)?;
        if self.disk.kind(older)?.is_none() {
            return Ok(());
        }
        let mut names = Vec::new();
        walk(&*self.disk, older, "", &mut |name, kind| {
            names.extend((kind != PathKind::Folder).then(|| name.to_owned()));
            Ok(true)
        })?;
        self.disk.tell(&format!(
            "{} keeps what this program did not write and {} has under the same name: {}",
            older.display(),
            self.target.display(),
            names.join(", ")
        ));
        Ok(())
    }

    /// Moves everything but the files of a manifest, and the manifest itself where it lists any,
    /// to free names in another folder. What has no free name stays.
    pub(super) fn carry(
        &self,
        from: &Path,
        to: &Path,
        below: &str,
        own: &Manifest,
    ) -> io::Result<()> {
        let disk = &*self.disk;
        for (name, kind) in disk.list(from)? {
            let child = joined(below, &name);
            let (source, goal) = (from.join(&name), to.join(&name));
            if kind == PathKind::Folder {
                if !own.has_folder(&child) {
                    stays(make_folders(disk, &goal))?;
                }
                self.carry(&source, &goal, &child, own)?;
                if !own.has_folder(&child) {
                    remove_if_empty(disk, &source)?;
                }
                continue;
            }
            let root = below_root(from, below);
            let is_own = kind == PathKind::File
                && if child == MANIFEST {
                    own.names().next().is_some() && manifest_is_own(disk, from)?
                } else {
                    own.has(disk, &root, &child)?
                };
            if !is_own {
                let moved = make_folders(disk, to);
                stays(moved.and_then(|()| disk.move_to_free(&source, &goal)))?;
            }
        }
        Ok(())
    }
}

/// The folder that has `below` in it, given a folder in it.
fn below_root(folder: &Path, below: &str) -> PathBuf {
    let depth = below.split('/').filter(|part| !part.is_empty()).count();
    let mut root = folder;
    for _ in 0..depth {
        root = root.parent().unwrap_or(root);
    }
    root.to_owned()
}
