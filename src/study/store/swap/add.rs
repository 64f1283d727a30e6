//! A finished work folder is added to a target whose other files stay.

use std::collections::BTreeSet;
use std::io;

use super::{MANIFEST_NEW, Places, make_folders};
use crate::study::KeepError;
use crate::study::store::manifest::{MANIFEST, Manifest, manifest_is_own};

impl Places {
    /// Moves the files of the finished work folder into a target whose other files stay. A file
    /// there is replaced only if this program wrote it and nobody changed it.
    ///
    /// # Errors
    ///
    /// Where a file is somebody's own, or the failure of a file operation.
    pub fn add(&self) -> Result<(), KeepError> {
        let new = self.seal()?;
        let at_target = || KeepError::at(&self.target);
        let (disk, target) = (&*self.disk, &self.target);
        make_folders(disk, target).map_err(at_target())?;
        let old = Manifest::read(disk, target).map_err(at_target())?;
        if let Some(name) = self.in_the_way(&old, &new).map_err(at_target())? {
            return Err(KeepError::Output {
                what: format!("cannot replace {}", target.join(name).display()),
                reason: "this program did not write it, or it was changed since: move it away or \
                         choose another folder"
                    .to_owned(),
            });
        }
        self.move_into(&old, &new).map_err(at_target())?;
        self.clear().map_err(KeepError::at(&self.partial))?;
        self.leave().map_err(KeepError::at(&self.partial))
    }

    /// A file of the target that is somebody's own and has the name of a new one.
    fn in_the_way(&self, old: &Manifest, new: &Manifest) -> io::Result<Option<String>> {
        let (disk, target) = (&*self.disk, &self.target);
        let manifest = target.join(MANIFEST);
        if disk.kind(&manifest)?.is_some() && !manifest_is_own(disk, target)? {
            return Ok(Some(MANIFEST.to_owned()));
        }
        for mark in new.marks() {
            if disk.kind(&target.join(&mark.path))?.is_some()
                && !old.has(disk, target, &mark.path)?
                && !mark.holds(disk, target)?
            {
                return Ok(Some(mark.path.clone()));
            }
        }
        Ok(None)
    }

    /// The manifest has old and new marks while files are replaced, so that each is known.
    fn move_into(&self, old: &Manifest, new: &Manifest) -> io::Result<()> {
        let (disk, target) = (&*self.disk, &self.target);
        let mut both = old.clone();
        new.marks().for_each(|mark| both.add(mark.clone()));
        self.put_manifest(&both)?;
        for name in new.names() {
            let goal = target.join(name);
            make_folders(disk, goal.parent().unwrap_or(target))?;
            // Between the look at what is in the way and now somebody may have put a file there.
            if disk.kind(&goal)?.is_none() {
                disk.move_to_free(&self.partial.join(name), &goal)?;
            } else if both.has(disk, target, name)? {
                disk.rename(&self.partial.join(name), &goal)?;
            } else {
                return Err(io::ErrorKind::AlreadyExists.into());
            }
        }
        let names: BTreeSet<&str> = new.names().collect();
        let mut last = new.clone();
        for mark in old.marks().filter(|m| !names.contains(m.path.as_str())) {
            last.add(mark.clone());
        }
        self.put_manifest(&last)
    }

    fn put_manifest(&self, manifest: &Manifest) -> io::Result<()> {
        let fresh = self.partial.join(MANIFEST_NEW);
        self.disk.create(&fresh, &manifest.bytes()?)?;
        self.disk.sync(&fresh)?;
        self.disk.rename(&fresh, &self.target.join(MANIFEST))?;
        self.disk.sync(&self.target)
    }
}
