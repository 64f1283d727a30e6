//! The columns of the table of trials: one list for the CSV file, the Parquet file and the
//! documentation of both.

use toml::Value;

use super::measured::measured;
use crate::scenario::sweep::model::{ParameterSpec, number, shown};
use crate::study::StudySetup;
use crate::trial::result::{Outcome, TrialRow};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColumnKind {
    /// Whole numbers of 64 bits.
    Whole,
    /// Numbers of double precision.
    Number,
    /// Text.
    Text,
}

impl ColumnKind {
    /// Name in the documentation.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Whole => "whole number",
            Self::Number => "number",
            Self::Text => "text",
        }
    }
}

/// One value of a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A whole number.
    Whole(i64),
    /// A number; missing where it is not finite.
    Number(f64),
    /// A text.
    Text(String),
}

impl Item {
    /// As the CSV file shows it: a number with as many digits as tell it from its neighbours, a
    /// missing one as nothing.
    #[must_use]
    pub fn text(&self) -> String {
        match self {
            Self::Whole(whole) => whole.to_string(),
            Self::Number(number) if !number.is_finite() => String::new(),
            Self::Number(number) => number.to_string(),
            Self::Text(text) => text.clone(),
        }
    }
}

/// A row with where it stands.
#[derive(Debug, Clone, Copy)]
pub struct TrialAt<'a> {
    /// Point.
    pub point: usize,
    /// Values of the parameters there.
    pub values: &'a [Value],
    /// Strategy, by number.
    pub strategy: usize,
    /// The trial.
    pub row: &'a TrialRow,
}

/// Name of the column of trials and of points that a part of a sweep has.
pub(super) const SO_FAR: &str = "so_far";

/// How a column gets its value.
type Get = Box<dyn Fn(&TrialAt<'_>) -> Item + Send>;

/// A column.
pub struct Column {
    /// Name, with its unit.
    pub name: String,
    /// What it holds.
    pub kind: ColumnKind,
    /// Unit; empty for a ratio or a text.
    pub unit: String,
    /// Meaning.
    pub meaning: String,
    get: Get,
}

impl std::fmt::Debug for Column {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Column")
            .field("name", &self.name)
            .finish_non_exhaustive()
    }
}

impl Column {
    pub(super) fn new(
        name: &str,
        kind: ColumnKind,
        unit: &str,
        meaning: &str,
        get: impl Fn(&TrialAt<'_>) -> Item + Send + 'static,
    ) -> Self {
        Self {
            name: name.to_owned(),
            kind,
            unit: unit.to_owned(),
            meaning: meaning.to_owned(),
            get: Box::new(get),
        }
    }

    /// The value in a row.
    #[must_use]
    pub fn of(&self, row: &TrialAt<'_>) -> Item {
        (self.get)(row)
    }
}

fn whole(value: impl TryInto<i64>) -> Item {
    Item::Whole(value.try_into().unwrap_or(i64::MAX))
}

/// Column of a parameter.
fn parameter(index: usize, spec: &ParameterSpec) -> Column {
    let is_number = !spec.is_category();
    let paths: Vec<&str> = spec.targets.iter().map(|t| t.path.as_str()).collect();
    Column::new(
        &spec.column,
        if is_number {
            ColumnKind::Number
        } else {
            ColumnKind::Text
        },
        &spec.unit,
        &format!("parameter of the sweep: {}", paths.join(", ")),
        move |at| match at.values.get(index) {
            Some(value) if is_number => Item::Number(number(value).unwrap_or(f64::NAN)),
            Some(value) => Item::Text(shown(value)),
            None => Item::Text(String::new()),
        },
    )
}

/// Columns of the table of trials of a study.
#[must_use]
pub fn trial_columns(setup: &StudySetup) -> Vec<Column> {
    let labels = setup.strategies.clone();
    let label = move |at: &TrialAt<'_>, get: fn(&crate::study::StrategyLabel) -> &String| {
        Item::Text(
            labels
                .get(at.strategy)
                .map_or(String::new(), |l| get(l).clone()),
        )
    };
    let (technique, wire) = (label.clone(), label);
    let mut columns = vec![Column::new(
        "point",
        ColumnKind::Whole,
        "",
        "number of the point, from 0",
        |at| whole(at.point),
    )];
    let parameters = setup.design.parameters.iter().enumerate();
    columns.extend(parameters.map(|(index, spec)| parameter(index, spec)));
    columns.extend([
        Column::new("technique", ColumnKind::Text, "", "technique", move |at| {
            technique(at, |l| &l.technique)
        }),
        Column::new("wire", ColumnKind::Text, "", "wire", move |at| {
            wire(at, |l| &l.wire)
        }),
        Column::new(
            "trial",
            ColumnKind::Whole,
            "",
            "number of the trial, from 0; trial n has the same draws at every point",
            |at| whole(at.row.trial),
        ),
        Column::new(
            "reached",
            ColumnKind::Whole,
            "",
            "1 if the tip reached the target, else 0; an unresolved trial did not",
            |at| whole(i32::from(at.row.outcome == Outcome::Reached)),
        ),
        Column::new(
            "outcome",
            ColumnKind::Text,
            "",
            "how the trial ended",
            |at| Item::Text(at.row.outcome.key().to_owned()),
        ),
        Column::new(
            "tip_branch",
            ColumnKind::Text,
            "",
            "branch in which the tip lay at the end",
            |at| Item::Text(at.row.tip_branch.clone()),
        ),
        Column::new("attempts", ColumnKind::Whole, "", "attempts made", |at| {
            whole(at.row.attempts)
        }),
    ]);
    columns.extend(measured());
    columns.extend([
        Column::new(
            "catheter_followed",
            ColumnKind::Text,
            "",
            "whether the support catheter followed the wire: followed, pulled_out, stayed; empty where it was not to follow",
            |at| Item::Text(at.row.catheter_followed.clone()),
        ),
        Column::new("steps", ColumnKind::Whole, "", "accepted steps", |at| {
            whole(at.row.steps)
        }),
        Column::new(
            "newton_iterations",
            ColumnKind::Whole,
            "",
            "Newton iterations over all steps",
            |at| whole(at.row.newton_iterations),
        ),
        Column::new(
            "note",
            ColumnKind::Text,
            "",
            "why an unresolved trial could not go on; empty otherwise",
            |at| Item::Text(at.row.note.clone()),
        ),
        Column::new(
            "reason",
            ColumnKind::Text,
            "",
            "why the target was not reached, in few words that can be counted",
            |at| Item::Text(at.row.reason.clone()),
        ),
        Column::new(
            "why",
            ColumnKind::Text,
            "",
            "the same with places, lengths and forces",
            |at| Item::Text(at.row.why.clone()),
        ),
    ]);
    if let Some(shares) = setup.of.so_far() {
        let shares = shares.to_owned();
        columns.push(Column::new(
            SO_FAR,
            ColumnKind::Text,
            "",
            "how many shares of the sweep were finished when these trials were joined; the column is not \
             there once all are",
            move |_| Item::Text(shares.clone()),
        ));
    }
    columns
}
