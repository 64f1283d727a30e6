//! Reading the files that a person names: files on a disk only, and none larger than is said.
//!
//! A device such as `/dev/zero` has no end and a pipe may never have a beginning, so neither is
//! opened.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

/// Largest text in bytes: scenarios, sweeps, trees, tables.
pub const TEXT_BYTES: u64 = 16 << 20;

/// The bytes of the file at `path`, which may have up to `most`.
///
/// # Errors
///
/// What the system says, or that it is no file on a disk, or too large.
pub fn bytes(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let about = fs::metadata(path)?;
    if about.is_dir() {
        return Err(io::Error::other("it is a folder, not a file"));
    }
    if !about.is_file() {
        return Err(io::Error::other(
            "it is a pipe or a device; allowed are files on a disk",
        ));
    }
    let too_large = |found: u64| {
        let megabytes = |bytes: u64| format!("{:.1} MB", bytes as f64 / 1e6);
        let mut sizes = [found, most].map(megabytes);
        if sizes[0] == sizes[1] {
            sizes = [found, most].map(|bytes| format!("{bytes} bytes"));
        }
        let [found, most] = sizes;
        io::Error::other(format!("it is {found} long, allowed are up to {most}"))
    };
    if about.len() > most {
        return Err(too_large(about.len()));
    }
    let mut bytes = Vec::new();
    File::open(path)?.take(most + 1).read_to_end(&mut bytes)?;
    // Files that the system makes up as they are read say that they are empty.
    if bytes.len() as u64 > most {
        return Err(too_large(bytes.len() as u64));
    }
    Ok(bytes)
}

/// The text of the file at `path`, of up to [`TEXT_BYTES`].
///
/// # Errors
///
/// As [`bytes`], and bytes that are no text in UTF-8.
pub fn text(path: &Path) -> io::Result<String> {
    let bytes = bytes(path, TEXT_BYTES)?;
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        io::Error::other(format!("byte {at} is no text in UTF-8"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refusal(path: &Path, most: u64) -> String {
        bytes(path, most).unwrap_err().to_string()
    }

    #[test]
    fn only_files_on_a_disk_of_limited_size_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("text");
        fs::write(&path, "0123456789").unwrap();
        assert_eq!(bytes(&path, 10).unwrap(), b"0123456789");
        assert!(refusal(&path, 9).contains("10 bytes long, allowed are up to 9 bytes"));
        assert!(refusal(folder.path(), 9).contains("folder"));
        if Path::new("/dev/zero").exists() {
            assert!(refusal(Path::new("/dev/zero"), 9).contains("device"));
        }
        fs::write(&path, b"ab\xff").unwrap();
        assert!(text(&path).unwrap_err().to_string().contains("byte 2"));
    }

    #[test]
    fn a_pipe_that_nobody_writes_to_is_refused_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("pipe");
        let made = std::process::Command::new("mkfifo").arg(&path).status();
        if made.is_ok_and(|status| status.success()) {
            assert!(refusal(&path, 9).contains("pipe"));
        }
    }
}
