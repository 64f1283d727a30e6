//! The scenario of a session with its recording as one more technique, for `bendwise run`.

use std::fs::OpenOptions;
use std::io::{self, Write};
use std::ops::Range;
use std::path::{Component, Path, PathBuf};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::session::FILE;
use crate::scenario::{Loaded, load_text};
use crate::schema::publish::without_directive;

/// Name of the scenario in the folder of a session.
pub const STUDY_FILE: &str = "study.toml";
/// Fields of `[vessel]` that name files.
const FILES: [&str; 3] = ["tree", "file", "names_file"];

/// Writes the scenario of a session into its folder, unless it is there already: the text as it is, with
/// paths counted from the folder, and the recording as the last technique.
///
/// # Errors
/// What the system says, or that the text cannot be extended by a technique.
pub fn write_study(loaded: &Loaded, folder: &Path) -> io::Result<PathBuf> {
    let path = folder.join(STUDY_FILE);
    if path.exists() {
        return Ok(path);
    }
    let text = extended(loaded, folder)?;
    load_text(&path, text.clone()).map_err(|error| io::Error::other(error.to_string()))?;
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    Ok(path)
}

/// The text with the recording as its last technique.
fn extended(loaded: &Loaded, folder: &Path) -> io::Result<String> {
    let text = &loaded.source.text;
    let home = loaded.source.path.parent().unwrap_or(Path::new(""));
    let home = if home.as_os_str().is_empty() {
        Path::new(".")
    } else {
        home
    };
    let (home, folder) = (home.canonicalize()?, folder.canonicalize()?);
    let mut moved = String::with_capacity(text.len());
    let mut done = 0;
    for (span, named) in files(text) {
        moved.push_str(&text[done..span.start]);
        let path = relative(&folder, &home.join(named));
        let shown = path.to_string_lossy().into_owned();
        moved.push_str(&toml::Value::String(shown).to_string());
        done = span.end;
    }
    moved.push_str(&text[done..]);
    let mut name = "by hand".to_owned();
    let is_taken = |name: &str| loaded.scenario.techniques.iter().any(|t| t.name == name);
    while is_taken(&name) {
        name.push_str(" again");
    }
    Ok(format!(
        "{}\n# What a person did in a session by hand.\n[[technique]]\nname = \"{name}\"\nkind = \"recorded\"\n\
         recording = \"{FILE}\"\n",
        without_directive(&moved).trim_end()
    ))
}

/// Every text of a scenario that names a file, with its place, in rising order.
fn files(text: &str) -> Vec<(Range<usize>, String)> {
    let mut found = Vec::new();
    let mut take = |value: &Spanned<DeValue<'_>>| {
        if let Some(named) = value.get_ref().as_str() {
            found.push((value.span(), named.to_owned()));
        }
    };
    let Ok(document) = DeTable::parse(text) else {
        return found;
    };
    let table = |of: &Spanned<DeValue<'_>>| of.get_ref().as_table().is_some();
    if let Some(vessel) = document.get_ref().get("vessel").filter(|v| table(v)) {
        let vessel = vessel.get_ref().as_table();
        for field in FILES {
            vessel.and_then(|vessel| vessel.get(field)).map(&mut take);
        }
        let heart =
            vessel.and_then(|vessel| vessel.get("motion")?.get_ref().as_table()?.get("heart"));
        let phases = heart.and_then(|heart| {
            heart
                .get_ref()
                .as_table()?
                .get("phases")?
                .get_ref()
                .as_array()
        });
        for phase in phases.into_iter().flat_map(|phases| phases.iter()) {
            take(phase);
        }
    }
    let techniques = document
        .get_ref()
        .get("technique")
        .and_then(|t| t.get_ref().as_array());
    for technique in techniques
        .into_iter()
        .flat_map(|techniques| techniques.iter())
    {
        let recording = technique
            .get_ref()
            .as_table()
            .and_then(|t| t.get("recording"));
        recording.map(&mut take);
    }
    found.sort_by_key(|(span, _)| span.start);
    found
}

/// A path as it is found from a folder; both begin at the root.
fn relative(folder: &Path, path: &Path) -> PathBuf {
    let mut plain = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir => {
                plain.pop();
            }
            Component::CurDir => {}
            other => plain.push(other),
        }
    }
    let (from, to): (Vec<_>, Vec<_>) =
        (folder.components().collect(), plain.components().collect());
    let same = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    if same == 0 {
        return plain;
    }
    let up = std::iter::repeat_n(Component::ParentDir, from.len() - same);
    up.chain(to[same..].iter().copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_found_again_from_another_folder() {
        let found = |folder: &str, path: &str| relative(Path::new(folder), Path::new(path));
        assert_eq!(found("/a/b/c", "/a/x.toml"), Path::new("../../x.toml"));
        assert_eq!(
            found("/a/b", "/a/b/../d/./x.toml"),
            Path::new("../d/x.toml")
        );
        let text = "[vessel]\ntree = \"t.toml\" # here\n[vessel.motion.heart]\nphases = [\"a.vtp\", 'b.vtp']\n\
                    [[technique]]\nrecording = \"r.csv\"\n";
        let named: Vec<_> = files(text)
            .into_iter()
            .map(|(span, named)| (text[span].to_owned(), named))
            .collect();
        let of = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        let expected = [
            of("\"t.toml\"", "t.toml"),
            of("\"a.vtp\"", "a.vtp"),
            of("'b.vtp'", "b.vtp"),
            of("\"r.csv\"", "r.csv"),
        ];
        assert_eq!(named, expected);
    }
}
