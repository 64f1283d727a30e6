//! A page with every field of a document: unit, range, default and meaning.

use std::fmt::Write as _;

use super::node::{Field, Node};

/// The page of a document called `title`, in Markdown; `example` is a whole file, empty for none.
#[must_use]
pub fn page(node: &Node, title: &str, about: &str, example: &str) -> String {
    let mut page = format!(
        "# {title}\n\n{about}\n\nA field without default must be there, unless it is marked \
         optional. Numbers stand alone, with a decimal point and without their unit, which the name of the \
         field ends in.\n\nBoth ends of a range are allowed, except where it says \"above\": \
         \"above 0 and up to 40\" leaves out 0 itself.\n"
    );
    if !example.is_empty() {
        let _ = write!(
            page,
            "\n## A small whole file\n\nIt runs as it stands.\n\n```toml\n{example}```\n"
        );
    }
    section(&mut page, node, "Top of the file", "", "");
    page
}

/// A section for a table, and sections for the tables in it. `path` is that of its header, empty at
/// the top; it is none inside a table that stands in a line.
fn section(page: &mut String, node: &Node, title: &str, about: &str, path: &str) {
    let _ = write!(page, "\n## {title}\n\n");
    if !about.is_empty() {
        let _ = write!(page, "{about}\n\n");
    }
    match node {
        Node::Table(fields) => {
            rows(page, fields);
            inner(page, fields, title, path);
        }
        Node::Tagged { tag, variants, .. } => {
            let is_common = |field: &Field| {
                variants.iter().all(|v| v.fields.contains(field)) && field.name != *tag
            };
            let Some(first) = variants.first() else {
                return;
            };
            let common: Vec<Field> = first
                .fields
                .iter()
                .filter(|f| is_common(f))
                .cloned()
                .collect();
            if !common.is_empty() {
                rows(page, &common);
                page.push('\n');
            }
            for variant in variants {
                let _ = write!(
                    page,
                    "### `{tag} = \"{}\"`\n\n{}\n\n",
                    variant.word, variant.about
                );
                let own = variant.fields.iter();
                let own = own.filter(|f| !is_common(f) && f.name != *tag);
                let own: Vec<Field> = own.cloned().collect();
                if !own.is_empty() {
                    rows(page, &own);
                    page.push('\n');
                }
            }
            inner(page, &common, title, path);
        }
        _ => {}
    }
}

fn rows(page: &mut String, fields: &[Field]) {
    page.push_str("| field | meaning | unit | range | default |\n|---|---|---|---|---|\n");
    for field in fields {
        let default = match (&field.default, field.required) {
            (Some(default), _) => default.as_str(),
            (None, true) => "",
            (None, false) => "optional",
        };
        let unit = field.node.range().map_or("", |range| &range.unit);
        let cell = |text: &str| text.replace('|', "\\|");
        let _ = writeln!(
            page,
            "| `{}` | {} | {unit} | {} | {} |",
            field.name,
            cell(&field.about),
            cell(&range(&field.node)),
            cell(default)
        );
    }
}

/// What a field may hold, in words.
fn range(node: &Node) -> String {
    match node {
        Node::Number(range) | Node::Whole(range) => {
            let (low, high) = (range.low, range.high);
            match (low.is_finite() && high.is_finite(), range.low_is_allowed) {
                (true, true) => format!("{low} to {high}"),
                (true, false) => format!("above {low} and up to {high}"),
                (false, _) => "number".into(),
            }
        }
        Node::Flag => "true, false".into(),
        Node::Text => "text".into(),
        Node::Choice { words, .. } => {
            let words = words.iter().map(|(word, about)| match about.as_str() {
                "" => format!("\"{word}\""),
                about => format!("\"{word}\" ({})", about.trim_end_matches('.')),
            });
            words.collect::<Vec<_>>().join(", ")
        }
        Node::List { entry, .. } => match &**entry {
            Node::Table(_) | Node::Tagged { .. } => "list of tables".into(),
            Node::Any => "list".into(),
            entry => format!("list of {}", range_in_list(entry)),
        },
        Node::Fixed(entries) => {
            let entries: Vec<String> = entries.iter().map(range).collect();
            format!("[{}]", entries.join("; "))
        }
        Node::Table(_) | Node::Tagged { .. } => "table".into(),
        Node::Named(inner) => format!("table of {}", range_in_list(inner)),
        Node::Either(forms) => forms.iter().map(range).collect::<Vec<_>>().join(", or "),
        Node::Any => "any value".into(),
    }
}

fn range_in_list(node: &Node) -> String {
    match node {
        Node::Text => "texts".into(),
        other => range(other),
    }
}

/// Sections of the tables inside a table.
fn inner(page: &mut String, fields: &[Field], title: &str, path: &str) {
    for field in fields {
        let Some((node, is_list)) = table_in(&field.node) else {
            continue;
        };
        let within = match path {
            "" => field.name.clone(),
            path => format!("{path}.{}", field.name),
        };
        let in_line = path.contains('[') || field.entry.is_some();
        let (heading, path) = match (in_line, is_list) {
            (true, _) => {
                let what = field.entry.as_deref().unwrap_or(&field.name);
                (format!("`{what}` of {title}"), "[".to_owned())
            }
            (false, true) => (format!("`[[{within}]]`"), format!("{within}[")),
            (false, false) => (format!("`[{within}]`"), within),
        };
        section(page, node, &heading, &field.about, &path);
    }
}

/// The table that a field may hold, and whether it stands in a list.
fn table_in(node: &Node) -> Option<(&Node, bool)> {
    match node {
        Node::Table(_) | Node::Tagged { .. } => Some((node, false)),
        Node::List { entry, .. } => table_in(entry).map(|(table, _)| (table, true)),
        Node::Either(forms) => forms.iter().find_map(table_in),
        Node::Number(_)
        | Node::Whole(_)
        | Node::Flag
        | Node::Text
        | Node::Choice { .. }
        | Node::Fixed(_)
        | Node::Named(_)
        | Node::Any => None,
    }
}
