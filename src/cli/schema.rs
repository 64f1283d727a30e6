//! `bendwise schema`.

use clap::Args as Group;

use super::failure::Failure;
use super::say;
use super::values;
use crate::scenario::Document;

/// Arguments of `schema`.
#[derive(Debug, Clone, Group)]
pub struct SchemaArgs {
    /// Which document: scenario, sweep, lesson, wires, tree (branches named by vessel.tree) or spread
    /// (places named by anatomy.spread)
    #[arg(default_value = "scenario", value_parser = values::document)]
    pub document: Document,

    /// Print a page with every field in Markdown instead
    #[arg(long)]
    pub markdown: bool,
}

/// Prints the JSON Schema of a document, or the page of its fields.
pub(super) fn schema(args: &SchemaArgs) -> Result<(), Failure> {
    let document = args.document;
    if args.markdown {
        return say(&document.page());
    }
    say(&format!("{:#}\n", document.schema()))
}
