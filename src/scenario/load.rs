//! From a path to a checked scenario.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use toml::Spanned;
use toml::de::DeTable;

use super::document::Document;
use super::error::{Checked, Problem, ScenarioError, resolved};
use super::guess;
use super::model::Scenario;
use super::parsed::parsed;
use super::source::{Source, SourceFile};
use super::tables::{self, ScenarioTable, TreeTable};
use super::view::PatientFrame;
use crate::anatomy::{self, Imported, Importer};
use crate::hands::Recording;
use crate::input;
use crate::schema::check::check;
use crate::schema::publish::without_directive;
use crate::schema::{DocumentFault, Place, Read, Refusal};
use crate::shown::{cut, path as shown_path};

/// A scenario that was read, with what later layers need to point back at it.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaded {
    /// The checked scenario.
    pub scenario: Scenario,
    /// The text it was read from.
    pub source: Source,
    /// SHA-256 of all files read, in hexadecimal.
    pub content_hash: String,
    /// What is allowed but odd.
    pub warnings: Vec<Warning>,
    /// The tree that a file of anatomy became, if `vessel.file` names one.
    pub imported: Option<Imported>,
    /// Where the axes of the scene point in a patient, if that is said.
    pub in_patient: Option<PatientFrame>,
}

impl Loaded {
    /// Where the axes of the scene point, in words.
    #[must_use]
    pub fn axes(&self) -> String {
        self.in_patient.map_or_else(
            || "axes of the scenario, which says nothing of a patient".to_owned(),
            |frame| frame.words(),
        )
    }
}

/// Something allowed but odd.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// What is odd: field, table, value.
    pub message: String,
    /// Where it stands.
    pub place: Place,
}

/// Reads and checks the scenario file at `path`, and the tree file or file of anatomy that it
/// names.
///
/// # Errors
///
/// The first fault found: a file that cannot be read, text that is not TOML, an unknown or
/// missing field, a value of the wrong type or outside its range, or values that do not go
/// together.
pub fn load(path: &Path) -> Result<Loaded, ScenarioError> {
    let text = input::text(path).map_err(|cause| ScenarioError::Unreadable {
        path: path.to_owned(),
        cause,
    })?;
    load_text(path, text)
}

/// Checks a scenario whose text is given; `path` is where it counts as standing, so that the
/// files it names are found.
///
/// # Errors
///
/// As [`load`].
pub fn load_text(path: &Path, text: String) -> Result<Loaded, ScenarioError> {
    load_text_with(path, text, &Importer::default())
}

/// As [`load_text`]; a file of anatomy is read by `importer`, which has perhaps read it before.
///
/// # Errors
///
/// As [`load`].
pub fn load_text_with(
    path: &Path,
    text: String,
    importer: &Importer,
) -> Result<Loaded, ScenarioError> {
    let mut source = Source {
        document: Document::Scenario,
        path: path.to_owned(),
        text,
        tree: None,
    };
    match tree_file(&source) {
        Ok(tree) => source.tree = tree,
        Err(problem) => return Err(problem.located(&source)),
    }
    let read = || -> Checked<_> {
        let table = scenario_table(&source)?;
        let resolve = |refusal: Box<Refusal>| resolved(*refusal, &source);
        let imported = anatomy_file(&table, &source, importer);
        let (mut imported, bytes) = imported.map_err(resolve)?.unzip();
        let (phases, of_phases) = phase_files(&table, &source).map_err(resolve)?;
        let recordings = recordings(&table, &source).map_err(resolve)?;
        let tree = match &source.tree {
            Some(tree) => Some(document::<TreeTable>(
                &tree.text,
                source.tree_base(),
                Document::Tree,
            )?),
            None => None,
        };
        let in_patient = table.is_in_patient(tree.as_ref());
        let pointed = imported.as_ref().map(|imported| table.pointed(imported));
        let (scenario, warnings) = table
            .checked(tree, (imported.as_ref(), &phases), &recordings.made)
            .map_err(resolve)?;
        if let Some(imported) = &mut imported {
            let notes = &mut imported.changes.notes;
            notes.extend(pointed.into_iter().flatten());
            notes.extend(guess::unconfirmed(&source.text));
        }
        let bytes = [bytes.unwrap_or_default(), of_phases, recordings.files].concat();
        let usual = in_patient.then(|| PatientFrame::from_words(["left", "head", "front"]));
        let frame = scenario
            .view
            .as_ref()
            .map(|view| view.frame)
            .or(usual.flatten());
        Ok((scenario, warnings, imported, bytes, frame))
    };
    let (scenario, warnings, imported, bytes, in_patient) =
        read().map_err(|p| p.located(&source))?;
    Ok(Loaded {
        scenario,
        content_hash: content_hash(&source, &bytes),
        source,
        warnings,
        imported,
        in_patient,
    })
}

/// Parses the scenario file and checks it against what it may hold.
pub(super) fn scenario_table(source: &Source) -> Checked<ScenarioTable> {
    let parsed = parsed(&source.text, 0)?;
    refuse_a_tree(&parsed)?;
    read(parsed, 0, Document::Scenario)
}

/// Parses a file and checks it against what its document may hold; its spans begin at `base`.
pub(super) fn document<T: DeserializeOwned>(
    text: &str,
    base: usize,
    document: Document,
) -> Checked<T> {
    read(parsed(text, base)?, base, document)
}

fn read<T: DeserializeOwned>(
    parsed: Spanned<DeTable<'_>>,
    base: usize,
    document: Document,
) -> Checked<T> {
    let moved = |span: std::ops::Range<usize>| span.start + base..span.end + base;
    check(parsed.get_ref(), document.node(), document.title())
        .map_err(|finding| Problem::new(finding.fault, moved(finding.span)))?;
    let deserializer = toml::de::Deserializer::from(parsed);
    T::deserialize(deserializer).map_err(|error| {
        let message = error.message().to_owned();
        let span = moved(error.span().unwrap_or(0..0));
        Problem::new(
            DocumentFault::Syntax {
                message,
                suspicion: None,
            },
            span,
        )
    })
}

/// Reads the file of anatomy named by `vessel.file` and the file of names beside it, whose paths
/// count from the scenario file; also gives the bytes of both.
fn anatomy_file(
    table: &ScenarioTable,
    source: &Source,
    importer: &Importer,
) -> Read<Option<(Imported, Vec<Vec<u8>>)>> {
    let vessel = &table.vessel;
    let other = vessel.beside_file();
    let Some(mut request) = vessel.anatomy.request(other, table.is_framed())? else {
        return Ok(None);
    };
    let folder = source.path.parent().unwrap_or(Path::new(""));
    let refused = |error: Box<anatomy::AnatomyError>, place: Place| {
        let (message, remedy) = (error.to_string(), error.fault.help());
        Refusal::worded(place, DocumentFault::Anatomy { message, remedy })
    };
    let mut files = Vec::new();
    if let Some(names) = &request.names {
        let read =
            anatomy::names(&folder.join(names)).map_err(|e| refused(e, tables::names_place()))?;
        request.settings.names.splice(0..0, read.0);
        files.push(read.1);
    }
    let (imported, bytes) = importer
        .import(&folder.join(&request.file), &request.settings)
        .map_err(|e| refused(e, tables::file_place()))?;
    files.insert(0, bytes);
    Ok(Some((imported, files)))
}

/// Reads the files of further phases of a beat as the file of anatomy; also gives their bytes.
fn phase_files(table: &ScenarioTable, source: &Source) -> Read<(Vec<Imported>, Vec<Vec<u8>>)> {
    let vessel = &table.vessel;
    let heart = vessel.motion.as_ref().and_then(|m| m.heart.as_ref());
    let Some(phases) = heart.and_then(|heart| heart.phases.as_ref()) else {
        return Ok((Vec::new(), Vec::new()));
    };
    let Some(mut request) = vessel.anatomy.request(None, table.is_framed())? else {
        return Ok((Vec::new(), Vec::new()));
    };
    let folder = source.path.parent().unwrap_or(Path::new(""));
    let place = |index| tables::phases_place().entry(index);
    let refused = |error: Box<anatomy::AnatomyError>, place: Place| {
        let (message, remedy) = (error.to_string(), error.fault.help());
        Refusal::worded(place, DocumentFault::Anatomy { message, remedy })
    };
    if let Some(names) = &request.names {
        let read =
            anatomy::names(&folder.join(names)).map_err(|e| refused(e, tables::names_place()))?;
        request.settings.names.splice(0..0, read.0);
    }
    let phases = phases.iter().enumerate().map(|(index, file)| {
        anatomy::import(&folder.join(file), &request.settings)
            .map_err(|error| refused(error, place(index)))
    });
    Ok(phases.collect::<Read<Vec<_>>>()?.into_iter().unzip())
}

/// The movements that techniques name.
struct Recordings {
    /// Of each technique, if it names a file.
    made: Vec<Option<Recording>>,
    /// The bytes of these files.
    files: Vec<Vec<u8>>,
}

/// Reads the file of movements that each technique names, if it names one.
fn recordings(table: &ScenarioTable, source: &Source) -> Read<Recordings> {
    let folder = source.path.parent().unwrap_or(Path::new(""));
    let mut read = Recordings {
        made: Vec::new(),
        files: Vec::new(),
    };
    for (index, named) in table.recordings().enumerate() {
        let Some(named) = named else {
            read.made.push(None);
            continue;
        };
        let path = folder.join(named);
        let refused = |reason: String, remedy: &str| {
            let place = Place::top("technique").entry(index).field("recording");
            Refusal::at(place, format!("{} {reason}", shown_path(&path)), remedy)
        };
        let text = input::text(&path).map_err(|cause| {
            refused(
                format!("cannot be read: {cause}"),
                "give the path of a recording, counted from the scenario file",
            )
        })?;
        let recording = Recording::read(&text).map_err(|fault| {
            refused(
                format!("is no recording of movements: {fault}"),
                "give a file that a session by hand has written",
            )
        })?;
        read.files.push(text.into_bytes());
        read.made.push(Some(recording));
    }
    Ok(read)
}

/// A tree file given in place of a scenario gets a message of its own.
fn refuse_a_tree(document: &Spanned<DeTable<'_>>) -> Checked<()> {
    let table = document.get_ref();
    match table.get("branch") {
        Some(branch) if !table.contains_key("vessel") => {
            let span = branch.span();
            Err(Problem::new(
                DocumentFault::Disagreement {
                    field: "branch".into(),
                    table: "the scenario".into(),
                    value: "a list of branches".into(),
                    reason:
                        "only a tree file has branches at its top; allowed is [[vessel.branch]]"
                            .into(),
                    remedy: "this is a tree, not a scenario: run a scenario that names it as \
                             vessel.tree, or move its branches into [vessel]"
                        .into(),
                },
                span,
            ))
        }
        _ => Ok(()),
    }
}

/// The file named by `vessel.tree`, whose path counts from the scenario file. A `tree` that is
/// not a text is left to the check of the whole.
fn tree_file(source: &Source) -> Checked<Option<SourceFile>> {
    let document = parsed(&source.text, 0)?;
    let entry = document
        .get_ref()
        .get("vessel")
        .and_then(|vessel| vessel.get_ref().as_table())
        .and_then(|vessel| vessel.get("tree"));
    let Some(entry) = entry else {
        return Ok(None);
    };
    let Some(name) = entry.get_ref().as_str() else {
        return Ok(None);
    };
    let folder = source
        .path
        .parent()
        .map_or_else(PathBuf::new, Path::to_owned);
    let path = folder.join(name);
    match input::text(&path) {
        Ok(text) => Ok(Some(SourceFile { path, text })),
        Err(cause) => Err(Problem::new(
            DocumentFault::Disagreement {
                field: "tree".into(),
                table: "[vessel]".into(),
                value: format!("\"{}\"", cut(name)),
                reason: format!("{} cannot be read: {cause}", shown_path(&path)),
                remedy: "give the path of a tree file, counted from the scenario file".into(),
            },
            entry.span(),
        )),
    }
}

/// SHA-256 over the scenario file, then the tree file, then the files of anatomy, each preceded by
/// its length so that moving bytes from one to the other changes the result. The line by which an
/// editor finds the schema of a file is none of its content.
pub(super) fn content_hash(source: &Source, anatomy: &[Vec<u8>]) -> String {
    let mut hasher = Sha256::new();
    let texts = [Some(&source.text), source.tree.as_ref().map(|t| &t.text)];
    let texts = texts.into_iter().flatten();
    let texts = texts.map(|text| without_directive(text).as_bytes());
    for bytes in texts.chain(anatomy.iter().map(Vec::as_slice)) {
        hasher.update((bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    }
    hasher
        .finalize()
        .iter()
        .fold(String::new(), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
}
