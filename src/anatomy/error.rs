//! Why a file of anatomy is refused.

use std::fmt;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::shown;

/// A file that cannot become a scene: the file, the place in it, what is wrong and what to do.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}{at}: {}", shown::path(path), shown::shortened(fault))]
pub struct AnatomyError {
    /// The file.
    pub path: PathBuf,
    /// Where in it.
    pub at: At,
    /// What is wrong.
    pub fault: Fault,
}

/// A place in a file of anatomy.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum At {
    /// The file as a whole.
    #[default]
    Whole,
    /// A line of the text, counted from 1.
    Line(usize),
    /// A byte, counted from 0.
    Byte(usize),
    /// A point in space in mm, in the scene's frame.
    Point([f64; 3]),
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Whole => Ok(()),
            Self::Line(line) => write!(f, ", line {line}"),
            Self::Byte(byte) => write!(f, ", byte {byte}"),
            Self::Point([x, y, z]) => write!(f, ", near ({x:.2}, {y:.2}, {z:.2}) mm"),
        }
    }
}

/// What is wrong with a file of anatomy.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Fault {
    /// The system cannot read it.
    #[error("cannot be read: {cause}")]
    Unreadable {
        /// What the system says.
        cause: String,
    },
    /// The ending names no format that is known.
    #[error("the ending \"{ending}\" is no format that can be read; allowed are {allowed}")]
    UnknownEnding {
        /// The ending, without its dot.
        ending: String,
        /// Endings that are known.
        allowed: &'static str,
    },
    /// The content is of another kind than the ending says.
    #[error("is not {expected}: it begins with {found:?}")]
    WrongType {
        /// What the ending promises.
        expected: &'static str,
        /// The first characters.
        found: String,
    },
    /// The file ends early.
    #[error("ends too early: {what}")]
    Truncated {
        /// What is missing.
        what: String,
    },
    /// The text does not follow the format.
    #[error("{what}")]
    Malformed {
        /// What was found, and what is allowed.
        what: String,
    },
    /// A way of writing that this program does not read.
    #[error("uses {what}, which is not read; allowed is {allowed}")]
    Unsupported {
        /// What it uses.
        what: String,
        /// What it may use.
        allowed: &'static str,
    },
    /// More than memory is set aside for.
    #[error("holds {found} {what}, allowed are at most {allowed}")]
    TooMuch {
        /// Points, lines, bytes.
        what: &'static str,
        /// How many there are (or were announced).
        found: u64,
        /// How many may be there.
        allowed: u64,
    },
    /// Something that must be there is not.
    #[error("holds no {what}")]
    Empty {
        /// What is missing.
        what: &'static str,
    },
    /// The radius array is not there.
    #[error("has no radius at its points: an array {wanted} was looked for; {present}")]
    NoRadius {
        /// Names that were looked for.
        wanted: String,
        /// Names that are there.
        present: String,
    },
    /// The array of names is not there.
    #[error("has no names called \"{wanted}\"; {present}")]
    NoNames {
        /// Name of the array that was looked for.
        wanted: String,
        /// What is there.
        present: String,
    },
    /// A radius that cannot be.
    #[error("the radius of point {point} is {value}; allowed is any number above 0")]
    BadRadius {
        /// Number of the point, from 0.
        point: usize,
        /// Its radius as written.
        value: f64,
    },
    /// A coordinate that is no number.
    #[error("coordinate {value} of point {point} is not a finite number")]
    NotFinite {
        /// Number of the point, from 0.
        point: usize,
        /// The value.
        value: f64,
    },
    /// The unit cannot be told from the size, or the stated one cannot be right.
    #[error("{reason}")]
    Units {
        /// What speaks against it.
        reason: String,
    },
    /// The frame is not known, or is said in two ways.
    #[error("{reason}")]
    Frame {
        /// What is missing or contradicts.
        reason: String,
    },
    /// A part hangs on nothing.
    #[error(
        "{what} lies {gap_mm:.2} mm from the rest; allowed is up to {allowed_mm:.2} mm{}",
        listed(further)
    )]
    Disconnected {
        /// Which part.
        what: String,
        /// Distance to the nearest other part in mm.
        gap_mm: f64,
        /// Largest gap that is closed in mm.
        allowed_mm: f64,
        /// Other parts that hang on nothing, in words.
        further: Vec<String>,
        /// Gap in mm that would join all of them.
        needed_mm: f64,
    },
    /// A closed way.
    #[error("{what} comes back to the tree: a vessel tree has no loops")]
    Loop {
        /// Which line.
        what: String,
    },
    /// A surface that encloses nothing, or not as a lumen does.
    #[error("{what}")]
    Surface {
        /// What is wrong with it.
        what: String,
        /// What to do.
        remedy: &'static str,
    },
    /// More than one.
    #[error("{}", in_a_row(.0.iter().map(ToString::to_string)))]
    Several(Vec<Fault>),
    /// A setting of the import does not go with the file.
    #[error("{what}")]
    Setting {
        /// What does not fit, and what is allowed.
        what: String,
        /// What to do.
        remedy: String,
    },
}

impl Fault {
    /// What a person can do about it.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::Unreadable { .. } => {
                "give the path of a readable file, counted from the scenario file".into()
            }
            Self::UnknownEnding { .. } | Self::WrongType { .. } => {
                "export it again in one of the formats, with the ending that belongs to it".into()
            }
            Self::Truncated { .. } | Self::Malformed { .. } | Self::NotFinite { .. } => {
                "export the file again; a copy that was broken off is often the cause".into()
            }
            Self::Unsupported { allowed, .. } => format!("export it again with {allowed}"),
            Self::TooMuch { .. } => "thin it out, or cut off what is not needed".into(),
            Self::Empty { .. } => "look into the file with a viewer: is it the right one?".into(),
            Self::NoRadius { .. } => {
                "name the array with radius_array = \"...\" in [vessel], or export the radius"
                    .into()
            }
            Self::NoNames { .. } => {
                "correct name_array in [vessel], or name the branches in [[vessel.name]] tables \
                 or in a names_file"
                    .into()
            }
            Self::BadRadius { .. } => "correct the radius, or leave the point out".into(),
            Self::Units { .. } => "say units = \"mm\", \"cm\" or \"m\" in [vessel]".into(),
            Self::Frame { .. } => "say frame = \"left-posterior-superior\" (most medical images), \
                 \"right-anterior-superior\" or \"scene\" (x to the patient's left, y to the \
                 head, z to the front) in [vessel]"
                .into(),
            Self::Disconnected { needed_mm, .. } => format!(
                "remove the part, or say join_mm = {:.1} in [vessel] if it belongs there",
                needed_mm + 0.1
            ),
            Self::Loop { .. } => "cut the line where it closes the loop".into(),
            Self::Surface { remedy, .. } => (*remedy).into(),
            Self::Setting { remedy, .. } => remedy.clone(),
            Self::Several(all) => in_a_row(all.iter().map(Self::help)),
        }
    }

    /// The fault at a place in a file.
    #[must_use]
    pub fn at(self, path: &Path, at: At) -> Box<AnatomyError> {
        Box::new(AnatomyError {
            path: path.to_owned(),
            at,
            fault: self,
        })
    }
}

/// Texts behind each other.
fn in_a_row(texts: impl Iterator<Item = String>) -> String {
    texts.collect::<Vec<_>>().join("; ")
}

/// Further faults of the same kind, behind the first.
fn listed(further: &[String]) -> String {
    further.iter().map(|f| format!("; also {f}")).collect()
}

/// A fault on its way up to the reader that knows the file's name.
pub(super) type Found = (At, Fault);

/// Result of reading a part of a file.
pub(super) type Checked<T> = Result<T, Found>;

/// A fault of the file as a whole.
pub(super) fn whole<T>(fault: Fault) -> Checked<T> {
    Err((At::Whole, fault))
}
