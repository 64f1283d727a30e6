//! `bendwise schema`.

use super::args::SchemaArgs;
use super::failure::Failure;
use super::say;

/// Prints the JSON Schema of a document, or the page of its fields.
pub(super) fn schema(args: &SchemaArgs) -> Result<(), Failure> {
    let document = args.document;
    if args.markdown {
        return say(&document.page());
    }
    say(&format!("{:#}\n", document.schema()))
}
