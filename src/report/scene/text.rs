//! What is said of a scene: sections of tables, named lines and paragraphs, and their form as plain text
//! in columns.

use std::ops::Add;

/// Width in characters to which running text is broken.
const TEXT_WIDTH: usize = 96;

/// Indent of everything below a title.
const INDENT: &str = "  ";

/// A section of the scene in words.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Section {
    /// Its title: what it is about in capitals, then more in words.
    pub title: String,
    /// What it says.
    pub flow: Flow,
}

impl Section {
    pub(super) fn new(title: &str, flow: Flow) -> Self {
        Self {
            title: title.to_owned(),
            flow,
        }
    }

    /// As plain text: the title, and below it everything indented; nothing above an empty title.
    pub(super) fn text(&self) -> String {
        let title = if self.title.is_empty() {
            String::new()
        } else {
            format!("{}\n", self.title)
        };
        title + &self.flow.text()
    }
}

/// Blocks of a section in their order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Flow(pub Vec<Block>);

/// A block of a section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block {
    /// A table.
    Table(Table),
    /// Lines of a name and a text.
    Pairs(Vec<(String, String)>),
    /// Running text.
    Paragraph(String),
    /// Paragraphs with a dash.
    Bullets(Vec<String>),
    /// What stands above the next block.
    Label(String),
}

impl Flow {
    fn text(&self) -> String {
        let blocks = self.0.iter().map(|block| match block {
            Block::Table(table) => table.render(),
            Block::Pairs(lines) => in_pairs(lines),
            Block::Paragraph(text) => hanging(INDENT, text),
            Block::Bullets(list) => (list.iter())
                .map(|text| hanging(&format!("{INDENT}- "), text))
                .collect(),
            Block::Label(text) => format!("{INDENT}{text}\n"),
        });
        blocks.collect()
    }
}

impl Add for Flow {
    type Output = Self;

    fn add(mut self, mut further: Self) -> Self {
        self.0.append(&mut further.0);
        self
    }
}

/// A table with two lines of heads: title and unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Title and unit of each column.
    pub heads: Vec<(String, String)>,
    /// The rows, a cell for each column.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// Table with the given (title, unit) of each column.
    pub(super) fn new(heads: &[(&str, &str)]) -> Self {
        let heads = heads
            .iter()
            .map(|(title, unit)| (title.to_string(), unit.to_string()));
        Self {
            heads: heads.collect(),
            rows: Vec::new(),
        }
    }

    /// Adds a row, a cell for each column.
    pub(super) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// The table as what a section says.
    pub(super) fn flow(self) -> Flow {
        Flow(vec![Block::Table(self)])
    }

    /// The table as text: columns two spaces apart, the first flush left, a column that holds a
    /// number flush right.
    fn render(&self) -> String {
        let columns = self.heads.len();
        let mut all: Vec<Vec<String>> = vec![self.heads.iter().map(|h| h.0.clone()).collect()];
        if self.heads.iter().any(|head| !head.1.is_empty()) {
            all.push(self.heads.iter().map(|h| h.1.clone()).collect());
        }
        all.extend(self.rows.iter().cloned());
        let column = |i: usize| all.iter().filter_map(move |row| row.get(i));
        let widths: Vec<usize> = (0..columns)
            .map(|i| column(i).map(|cell| width(cell)).max().unwrap_or(0))
            .collect();
        let flush_right: Vec<bool> = (0..columns)
            .map(|i| i > 0 && column(i).any(|cell| cell.parse::<f64>().is_ok()))
            .collect();
        let mut text = String::new();
        for row in &all {
            let mut line = String::new();
            for (i, cell) in row.iter().enumerate() {
                let space = " ".repeat(widths[i] - width(cell));
                line += INDENT;
                line += &if flush_right[i] {
                    space + cell
                } else {
                    cell.clone() + &space
                };
            }
            text += line.trim_end();
            text += "\n";
        }
        text
    }
}

/// Lines of a name and a text.
pub(super) fn pairs(lines: &[(&str, String)]) -> Flow {
    let lines = lines
        .iter()
        .map(|(name, text)| (name.to_string(), text.clone()));
    Flow(vec![Block::Pairs(lines.collect())])
}

/// Lines of a name and a text, the texts below each other and broken at the page's width.
fn in_pairs(lines: &[(String, String)]) -> String {
    let widest = lines.iter().map(|(name, _)| width(name)).max().unwrap_or(0);
    lines
        .iter()
        .map(|(name, text)| {
            let space = " ".repeat(widest - width(name));
            hanging(&format!("{INDENT}{name}{space}{INDENT}"), text)
        })
        .collect()
}

/// A paragraph of running text.
pub(super) fn paragraph(text: &str) -> Flow {
    Flow(vec![Block::Paragraph(text.to_owned())])
}

/// Paragraphs that begin with a dash.
pub(super) fn bullets(list: &[String]) -> Flow {
    Flow(vec![Block::Bullets(list.to_vec())])
}

/// What stands above the next block.
pub(super) fn label(text: &str) -> Flow {
    Flow(vec![Block::Label(text.to_owned())])
}

/// `text` behind `first`, broken at the page's width, further lines indented as far as `first`
/// reaches.
fn hanging(first: &str, text: &str) -> String {
    let indent = " ".repeat(width(first));
    let mut lines = Vec::new();
    let mut line = first.to_owned();
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && width(&line) + 1 + width(word) > TEXT_WIDTH {
            lines.push(std::mem::replace(&mut line, indent.clone()));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line += word;
        empty = false;
    }
    lines.push(line);
    lines
        .iter()
        .map(|line| line.trim_end().to_owned() + "\n")
        .collect()
}

/// Number of characters.
fn width(text: &str) -> usize {
    text.chars().count()
}

/// What stands where nothing applies.
pub(super) fn dash() -> String {
    "-".to_owned()
}

/// A number with a fixed count of decimals.
pub(super) fn fixed(value: f64, decimals: usize) -> String {
    format!("{value:.decimals$}")
}

/// A number with three significant digits, in plain decimals.
pub(super) fn significant(value: f64) -> String {
    if value.abs() < f64::MIN_POSITIVE || !value.is_finite() {
        return format!("{value}");
    }
    // Rounding may carry into the next decade, so count the digits of the rounded number.
    let written = format!("{value:.2e}");
    let exponent = written
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse::<i32>().ok())
        .unwrap_or(0);
    let decimals = usize::try_from(2 - exponent).unwrap_or(0);
    format!("{value:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_digits_are_kept_over_eight_decades() {
        let written = [
            0.000_012_345,
            0.0486,
            0.5,
            0.9996,
            12.94,
            99.96,
            157.2,
            4857.4,
        ];
        let expected = [
            "0.0000123",
            "0.0486",
            "0.500",
            "1.00",
            "12.9",
            "100",
            "157",
            "4857",
        ];
        assert_eq!(written.map(significant), expected);
        assert_eq!(significant(0.0), "0");
    }

    #[test]
    fn numbers_stand_flush_right_and_names_flush_left() {
        let mut table = Table::new(&[("wire", ""), ("load", "gf")]);
        table.row(vec!["soft".to_owned(), "0.3".to_owned()]);
        table.row(vec!["very stiff".to_owned(), "12".to_owned()]);
        let expected =
            "  wire        load\n                gf\n  soft         0.3\n  very stiff    12\n";
        assert_eq!(table.render(), expected);
    }

    #[test]
    fn long_text_is_broken_and_hangs_behind_its_name() {
        let text = pairs(&[("a", "word ".repeat(30)), ("long", "x".to_owned())]).text();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 3);
        assert!(lines.iter().all(|line| line.len() <= TEXT_WIDTH));
        assert!(lines[0].starts_with("  a     word"));
        assert!(lines[1].starts_with("        word"));
        assert_eq!(lines[2], "  long  x");
    }
}
