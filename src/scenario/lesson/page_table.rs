//! `[[page]]` of a lesson: what it changes, says and claims.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use super::model::{Bound, Change, ClaimSpec, Limit, PageSpec};
use super::opening::{Opening, OpeningMoment, PageView};
use super::text::{Expression, Text};
use crate::scenario::sweep::anything;
use crate::scenario::sweep::model::SetSpec;
use crate::scenario::tables::plain_word;
use crate::schema::{Place, Read, Refusal};

/// A page of a lesson. Its texts hold places in braces that are filled when the lesson is built: a measure
/// such as `{wall_force}`, one of another page `{wall_force of NAME}`, their ratio or difference `{A / B}`, `{A - B}`,
/// `{set PATH}` for a value of the scenario, `{technique}`, `{wire}`. A number that is typed is refused.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct PageTable {
    /// Name by which other pages speak of it: letters, digits and dashes.
    #[schemars(extend("x-example" = "\"stiff\""))]
    pub(super) name: String,
    /// What the page is called; of places in braces it takes {set PATH}, {technique} and {wire}.
    #[schemars(extend("x-example" = "\"A stiff tip\""))]
    title: String,
    /// The one thing that is different from the page before; on every page but the first.
    #[schemars(extend("x-example" = "{ wire = \"soft 0.3 gf\" }"))]
    change: Option<ChangeTable>,
    /// From where the playback is seen first: "whole vessel", "branching" (of the target, flat in the picture), "C-arm"
    /// (the technique's sight, else the current view of the scenario), or angles such as "RAO 30 CAU 20"; the last two
    /// need [view] in the scenario.
    #[schemars(extend("x-default" = "\"whole vessel\"", "x-example" = "\"branching\""))]
    view: Option<String>,
    /// How far the view is turned from there, to the right and up: a free view.
    #[schemars(inner(range(min = -180, max = 180)), extend(
        "x-default" = "[0, 0]",
        "x-example" = "[30, 20]"
    ))]
    turned_deg: Option<[f64; 2]>,
    /// Where along the trial the playback opens: "start", "mouth" (the tip is nearest to the target's mouth when it
    /// first comes there), "largest push", "largest wall force", "end".
    #[schemars(extend("x-default" = "\"end\"", "x-example" = "\"mouth\""))]
    opens: Option<String>,
    /// A sentence or two.
    #[schemars(extend("x-example" = "\"It is pushed round the bend.\""))]
    text: String,
    /// What to look at.
    #[schemars(extend("x-example" = "\"The outer wall.\""))]
    look: String,
    /// What the trials show: whatever is said of results stands here, so that it is held against them.
    #[schemars(length(min = 1, max = 12), extend(
        "x-example" = "[[page.claim]]\nsay = \"It presses with {wall_force}.\"\nvalue = \"wall_force\"\nmore_than = 0"
    ))]
    claim: Vec<ClaimTable>,
    /// A question with its answer.
    #[schemars(extend("x-example" = "{ ask = \"Why?\", answer = \"It is stiff.\" }"))]
    question: QuestionTable,
}

/// The one thing that a page changes: a value at a path, or the technique, or the wire.
#[derive(Debug, Deserialize, JsonSchema)]
struct ChangeTable {
    /// Path in the scenario, as in a sweep; it must lead to one place.
    #[schemars(extend("x-example" = "'wire.\"workhorse 1 gf\".bend.length_mm'"))]
    path: Option<String>,
    /// The value that is set there.
    #[schemars(schema_with = "anything")]
    #[serde(default)]
    #[schemars(extend("x-example" = "3"))]
    value: Option<toml::Value>,
    /// Name of the technique that is used from here on.
    #[schemars(extend("x-example" = "\"redirect\""))]
    technique: Option<String>,
    /// Name of the wire that is used from here on.
    #[schemars(extend("x-example" = "\"soft 0.3 gf\""))]
    wire: Option<String>,
}

/// A question with its answer.
#[derive(Debug, Deserialize, JsonSchema)]
struct QuestionTable {
    /// What is asked.
    #[schemars(extend("x-example" = "\"Why?\""))]
    ask: String,
    /// The answer, which is folded away until somebody opens it.
    #[schemars(extend("x-example" = "\"It is stiff.\""))]
    answer: String,
}

/// What the trials show: a measured value with at least one bound, each a number in the value's unit or another
/// measured value. Where the trials do not keep it the lesson is not built.
#[derive(Debug, Deserialize, JsonSchema)]
struct ClaimTable {
    /// The sentence that stands on the page.
    #[schemars(extend("x-example" = "\"It presses with {wall_force}.\""))]
    say: String,
    /// What is measured, as in braces: a measure of the guide's page on lessons, which has a table of them; a
    /// name that is none is answered by the list of all.
    #[schemars(extend("x-example" = "\"wall_force\""))]
    value: String,
    /// It is not below this.
    #[schemars(schema_with = "limit")]
    #[serde(default)]
    #[schemars(extend("x-entry" = "limit", "x-example" = "3"))]
    at_least: Option<LimitTable>,
    /// It is not above this.
    #[schemars(schema_with = "limit")]
    #[serde(default)]
    #[schemars(extend("x-entry" = "limit", "x-example" = "3"))]
    at_most: Option<LimitTable>,
    /// It is above this.
    #[schemars(schema_with = "limit")]
    #[serde(default)]
    #[schemars(extend("x-entry" = "limit", "x-example" = "\"wall_force of soft\""))]
    more_than: Option<LimitTable>,
    /// It is below this.
    #[schemars(schema_with = "limit")]
    #[serde(default)]
    #[schemars(extend("x-entry" = "limit", "x-example" = "\"wall_force of stiff\""))]
    less_than: Option<LimitTable>,
}

/// What a value is held against.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum LimitTable {
    Number(f64),
    Measured(String),
}

fn limit(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "anyOf": [
        { "type": "number", "minimum": -1e12, "maximum": 1e12 },
        { "type": "string" },
    ] })
}

impl PageTable {
    pub(super) fn checked(self, at: Place, names: &[String]) -> Read<PageSpec> {
        plain_word(at.field("name"), &self.name, "stiff")?;
        let is_first = at == Place::top("page").entry(0);
        let change = match (self.change, is_first) {
            (None, true) => None,
            (None, false) => return Err(Refusal::missing(at.field("change"))),
            (Some(_), true) => {
                return Err(Refusal::at(
                    at.field("change"),
                    "there is no page before the first one",
                    "set what the lesson begins with by technique, wire and [[set]] at its top",
                ));
            }
            (Some(change), false) => Some(change.checked(&at.field("change"))?),
        };
        let read = |place: &Place, field: &'static str, text: &str| -> Read<Text> {
            let place = place.field(field);
            let read = Text::parse(text);
            let read = read.map_err(|reason| faulty(place.clone(), reason))?;
            let all = read.expressions().collect::<Vec<_>>();
            known(&place, all, names)?;
            Ok(read)
        };
        let title = read(&at, "title", &self.title)?;
        if title.expressions().next().is_some() {
            return Err(Refusal::at(
                at.field("title"),
                "a page has its title before its trials are run",
                "use {set PATH}, {technique} or {wire}, or say it in a claim",
            ));
        }
        let question = at.field("question");
        let mut claims = Vec::new();
        for (index, claim) in self.claim.into_iter().enumerate() {
            let place = at.field("claim").entry(index);
            let say = read(&place, "say", &claim.say)?;
            if say.expressions().next().is_none() {
                return Err(Refusal::at(
                    place.field("say"),
                    "a claim says what is measured",
                    "write a measure in braces, such as {wall_force} or {wall_force / wall_force of stiff}",
                ));
            }
            claims.push(claim.checked(say, place, names)?);
        }
        let opening = Opening {
            view: match &self.view {
                Some(view) => PageView::read(view, &at.field("view"))?,
                None => PageView::default(),
            },
            turned_deg: self.turned_deg.unwrap_or_default(),
            moment: match &self.opens {
                Some(opens) => OpeningMoment::read(opens, &at.field("opens"))?,
                None => OpeningMoment::default(),
            },
        };
        Ok(PageSpec {
            opening,
            text: read(&at, "text", &self.text)?,
            look: read(&at, "look", &self.look)?,
            ask: read(&question, "ask", &self.question.ask)?,
            answer: read(&question, "answer", &self.question.answer)?,
            name: self.name,
            title,
            change,
            claims,
            place: at,
        })
    }
}

fn faulty(place: Place, reason: String) -> Box<Refusal> {
    let remedy =
        "write a measure in braces, such as {wall_force}, {wall_force of stiff} or {set PATH}";
    Refusal::at(place, reason, remedy)
}

/// Refuses pages that are not there.
fn known(place: &Place, of: Vec<&Expression>, names: &[String]) -> Read<()> {
    let pages = of.into_iter().flat_map(Expression::operands);
    for page in pages.filter_map(|operand| operand.page.as_ref()) {
        if !names.contains(page) {
            return Err(Refusal::at(
                place.clone(),
                format!("there is no page {page}"),
                format!("the pages are {}", crate::shown::listed(names)),
            ));
        }
    }
    Ok(())
}

impl ChangeTable {
    fn checked(self, at: &Place) -> Read<Change> {
        let one = |said: usize| {
            Refusal::at(
                at.clone(),
                format!("it names {said} things; a page changes one"),
                "give path and value, or technique, or wire",
            )
        };
        match (self.path, self.value, self.technique, self.wire) {
            (Some(path), Some(value), None, None) => Ok(Change::Value(SetSpec {
                path,
                value,
                place: at.field("path"),
            })),
            (None, None, Some(technique), None) => Ok(Change::Technique(technique)),
            (None, None, None, Some(wire)) => Ok(Change::Wire(wire)),
            (Some(_), None, None, None) => Err(Refusal::missing(at.field("value"))),
            (None, Some(_), None, None) => Err(Refusal::missing(at.field("path"))),
            (path, value, technique, wire) => {
                Err(one(usize::from(path.is_some() || value.is_some())
                    + usize::from(technique.is_some())
                    + usize::from(wire.is_some())))
            }
        }
    }
}

impl ClaimTable {
    fn checked(self, say: Text, at: Place, names: &[String]) -> Read<ClaimSpec> {
        let expression = |field: &'static str, text: &str| -> Read<Expression> {
            let place = at.field(field);
            let read = Expression::parse(text);
            let read = read.map_err(|reason| faulty(place.clone(), reason))?;
            known(&place, vec![&read], names)?;
            Ok(read)
        };
        let value = expression("value", &self.value)?;
        let mut bounds = Vec::new();
        for (bound, field, limit) in [
            (Bound::AtLeast, "at_least", self.at_least),
            (Bound::AtMost, "at_most", self.at_most),
            (Bound::MoreThan, "more_than", self.more_than),
            (Bound::LessThan, "less_than", self.less_than),
        ] {
            match limit {
                None => {}
                Some(LimitTable::Number(number)) => bounds.push((bound, Limit::Number(number))),
                Some(LimitTable::Measured(text)) => {
                    bounds.push((bound, Limit::Measured(expression(field, &text)?)));
                }
            }
        }
        if bounds.is_empty() {
            return Err(Refusal::at(
                at.field("value"),
                "nothing is claimed of it",
                "add at_least, at_most, more_than or less_than, with a number or another measure",
            ));
        }
        Ok(ClaimSpec {
            say,
            value,
            bounds,
            place: at,
        })
    }
}
