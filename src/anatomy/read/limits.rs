//! How much a file may ask for, so that no file, however wrong, takes the machine's memory.

use crate::anatomy::error::{At, Checked, Fault};

/// Largest file in bytes.
pub(super) const FILE_BYTES: u64 = 1 << 26;
/// Largest amount of data in bytes that all arrays of a file may unpack to.
pub(super) const ARRAY_BYTES: u64 = 1 << 26;
/// Most points.
pub(super) const POINTS: u64 = 1_000_000;
/// Most triangles.
pub(super) const TRIANGLES: u64 = 500_000;
/// Most lines. A pair of points that is a line of its own counts too.
pub(super) const LINES: u64 = 1_000_000;

/// Refuses more than `allowed`.
pub(super) fn at_most(what: &'static str, found: u64, allowed: u64) -> Checked<()> {
    if found <= allowed {
        return Ok(());
    }
    Err((
        At::Whole,
        Fault::TooMuch {
            what,
            found,
            allowed,
        },
    ))
}

/// What is left of the memory for arrays.
#[derive(Debug)]
pub(super) struct Budget {
    left: u64,
}

impl Budget {
    pub(super) fn new() -> Self {
        Self { left: ARRAY_BYTES }
    }

    /// Takes `bytes` out.
    pub(super) fn take(&mut self, bytes: u64) -> Checked<()> {
        if bytes > self.left {
            let found = (ARRAY_BYTES - self.left).saturating_add(bytes);
            return Err((
                At::Whole,
                Fault::TooMuch {
                    what: "bytes of unpacked data",
                    found,
                    allowed: ARRAY_BYTES,
                },
            ));
        }
        self.left -= bytes;
        Ok(())
    }
}
