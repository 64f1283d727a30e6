//! A scenario as a document that is changed at a path and read again: what sweeps and lessons do with it.

use std::path::Path;

use toml::Value;

use crate::input;
use crate::scenario::ScenarioError;
use crate::shown as words;

/// A text as a document.
///
/// # Errors
///
/// What the reader of TOML says.
pub(in crate::study) fn parse(text: &str) -> Result<Value, String> {
    let table = text.parse::<toml::Table>();
    table
        .map(Value::Table)
        .map_err(|error| error.message().to_owned())
}

/// A document as a text.
///
/// # Errors
///
/// What the writer of TOML says.
pub(in crate::study) fn text(document: &Value) -> Result<String, String> {
    toml::to_string(document).map_err(|error| error.to_string())
}

/// Puts the branches of the tree file where the scenario's own stand, so that paths reach them.
///
/// # Errors
///
/// That the tree file cannot be read.
pub(in crate::study) fn inline_tree(document: &mut Value, scenario: &Path) -> Result<(), String> {
    let Some(vessel) = document.get_mut("vessel").and_then(Value::as_table_mut) else {
        return Ok(());
    };
    let Some(name) = vessel.get("tree").and_then(Value::as_str) else {
        return Ok(());
    };
    let path = scenario.parent().unwrap_or(Path::new("")).join(name);
    let text = input::text(&path)
        .map_err(|error| format!("{} cannot be read: {error}", words::path(&path)))?;
    let tree = parse(&text)?;
    vessel.remove("tree");
    for field in ["branch", "narrowing"] {
        let Some(Value::Array(mut entries)) = tree.get(field).cloned() else {
            continue;
        };
        if let Some(Value::Array(own)) = vessel.remove(field) {
            entries.extend(own);
        }
        vessel.insert(field.to_owned(), Value::Array(entries));
    }
    if let (Some(root), Some(origin)) = (document.as_table_mut(), tree.get("origin")) {
        root.entry("origin").or_insert_with(|| origin.clone());
    }
    Ok(())
}

/// Why a changed scenario is refused, in words.
pub(in crate::study) fn reason(error: &ScenarioError) -> String {
    match error {
        ScenarioError::Faulty(located) => {
            format!("{}; {}", located.fault, located.fault.help())
        }
        other @ ScenarioError::Unreadable { .. } => other.to_string(),
    }
}
