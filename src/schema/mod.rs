//! Documents by derive: what a file may say is said once, by the structs into which it is read.
//!
//! A document is a plain struct that derives [`serde::Deserialize`] and [`schemars::JsonSchema`]. A
//! field's name (with its unit), range, default and meaning stand at the field: `range`, `length`
//! and the doc comment are read as they are, and these extensions beside them:
//!
//! | extension | meaning |
//! |---|---|
//! | `exclusiveMinimum` | lower end of a range that does not belong to it |
//! | `x-unit` | unit, where the ending of the name does not say it ([`crate::units::of_field`]) |
//! | `x-example` | value in TOML, or whole lines, shown where the field is missing |
//! | `x-suspect` | which function of `suspicion` guesses what a number outside the range meant |
//! | `x-kind` | what a word is, such as "a surface" |
//! | `x-entry` | how the tables of an inline list are called, such as "piece" |
//! | `x-remedy` | what to do about a list with too few entries |
//! | `x-default` | a default that depends on something, in words |
//!
//! From them come the check of a file with its messages (`check`), the place of a field in a file
//! (`locate`), the published JSON Schema (`publish`) and the page of all fields (`page`).
//! Checks between fields are made on the structs; what they refuse names a [`Place`].
pub(crate) mod check;
pub(crate) mod defaults;
mod fault;
pub(crate) mod locate;
mod near;
pub(crate) mod node;
pub(crate) mod odd_number;
pub(crate) mod page;
mod place;
pub(crate) mod publish;
pub(crate) mod refusal;
pub(crate) mod shapes;
pub(crate) mod suspicion;
mod value;

pub use fault::DocumentFault;
pub use near::nearest;
pub(crate) use node::Node;
pub use place::{Place, Step};
pub(crate) use refusal::{Read, Refusal};
