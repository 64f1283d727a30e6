//! What a study is to compute, and who computes which share of it.

use std::fmt::{self, Write as _};
use std::fs::File;
use std::io;

use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest, Sha256};

use super::deal::{Deal, SharePoints};
use super::sweep::Design;
use crate::scenario::model::Scenario;
use crate::scenario::sweep::model::{DesignKind, MapSpec, SearchSpec};

/// One strategy as tables and files name it: a technique with a wire.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StrategyLabel {
    /// Name in tables, unique in a study.
    pub name: String,
    /// Name in file names: letters, digits and dashes, unique in a study.
    pub slug: String,
    /// Name of the technique.
    pub technique: String,
    /// Name of the wire.
    pub wire: String,
}

/// How a review is named in files; no sweep can have this name.
const REVIEW: &str = "(evidence)";

/// What a study is of; in files the name of the sweep, an empty one, or that of a review.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum StudyOf {
    /// A scenario as it is.
    Scenario,
    /// A sweep with this name.
    Sweep(String),
    /// What there is of a sweep in shares, before all of them are finished. Never in a file of a share or of
    /// an array.
    SoFar {
        /// Name of the sweep with these words behind it.
        name: String,
        /// How many of the shares are finished, in words.
        shares: String,
    },
    /// How far the result of a scenario can be trusted.
    Review,
}

impl From<String> for StudyOf {
    fn from(name: String) -> Self {
        if name.is_empty() {
            Self::Scenario
        } else if name == REVIEW {
            Self::Review
        } else {
            Self::Sweep(name)
        }
    }
}

impl From<StudyOf> for String {
    fn from(of: StudyOf) -> Self {
        of.name().to_owned()
    }
}

impl StudyOf {
    /// Name of the sweep; empty for a scenario as it is, in brackets for a review.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Scenario => "",
            Self::Sweep(name) | Self::SoFar { name, .. } => name,
            Self::Review => REVIEW,
        }
    }

    /// How many shares are finished, in words, where they are not all.
    #[must_use]
    pub fn so_far(&self) -> Option<&str> {
        match self {
            Self::Scenario | Self::Sweep(_) | Self::Review => None,
            Self::SoFar { shares, .. } => Some(shares),
        }
    }
}

/// Everything that must be the same for results to belong to one study: points, and the same trials
/// of the same strategies at each. A scenario as it is, is a study of one point. With this alone the
/// tables and figures of a sweep can be made from rows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StudySetup {
    /// Version of the program.
    #[serde(rename = "bendwise")]
    pub version: String,
    /// Fingerprint of the executable, see [`build_fingerprint`].
    pub build: String,
    /// What it is of.
    #[serde(rename = "name")]
    pub of: StudyOf,
    /// What it asks.
    pub description: String,
    /// Name of the scenario.
    pub scenario: String,
    /// Where its anatomy comes from.
    pub origin: String,
    /// Hash of what the scenario says; of a sweep, of its file and every file of the scenario.
    pub content_hash: String,
    /// Seed of design and trials.
    pub seed: u64,
    /// Points.
    pub points: usize,
    /// Trials of each strategy at every point; where an interval width is wanted, at one time.
    pub trials: u32,
    /// Trials of each strategy at every point, from trial 0, that leave a trace and shapes.
    #[serde(default, skip_serializing_if = "is_none")]
    pub recorded: u32,
    /// Wanted width of each rate's interval, and the most trials for it.
    pub until_width: Option<UntilWidth>,
    /// Strategies in the order of the tables.
    pub strategies: Vec<StrategyLabel>,
    /// The points.
    pub design: Design,
    /// What the map shows.
    pub map: Option<MapSpec>,
    /// The search for the best point.
    pub search: Option<SearchSpec>,
    /// Copies of the sweep file and the files of its scenario, names and texts, so that a page that is made
    /// from shares holds them too; empty for a scenario as it is, and where they are long.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub files: Vec<(String, String)>,
}

#[allow(
    clippy::trivially_copy_pass_by_ref,
    reason = "the shape that serde asks for"
)]
fn is_none(count: &u32) -> bool {
    *count == 0
}

/// Trials go on at each point until the interval of the rate is narrow enough.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct UntilWidth {
    /// Wanted width, 0 to 1.
    pub width: f64,
    /// Trials after which a strategy at a point is left as it is.
    pub most_trials: u32,
}

impl StudySetup {
    /// The study that `scenario` asks for, computed by this build of the program; `strategies` label
    /// its techniques with its wires in the order in which they are numbered.
    #[must_use]
    pub fn of_scenario(
        scenario: &Scenario,
        content_hash: &str,
        strategies: Vec<StrategyLabel>,
    ) -> Self {
        let study = &scenario.study;
        Self {
            version: String::new(),
            build: String::new(),
            of: StudyOf::Scenario,
            description: String::new(),
            scenario: scenario.name.clone(),
            origin: scenario.origin.clone(),
            content_hash: content_hash.to_owned(),
            seed: study.seed,
            points: 1,
            trials: study.trials,
            recorded: study.recorded.min(study.trials),
            until_width: None,
            strategies,
            design: Design {
                kind: DesignKind::Grid,
                seed: 0,
                parameters: Vec::new(),
            },
            map: None,
            search: None,
            files: Vec::new(),
        }
        .stamped()
    }

    /// Fills in what every setup of this program carries.
    #[must_use]
    pub fn stamped(mut self) -> Self {
        env!("CARGO_PKG_VERSION").clone_into(&mut self.version);
        self.build = build_fingerprint();
        self
    }

    /// The most trials that a strategy can have at one point; their numbers are smaller.
    #[must_use]
    pub fn most_trials(&self) -> u32 {
        match (&self.search, &self.until_width) {
            (Some(search), _) => search.most_trials.saturating_add(search.confirm),
            (None, Some(until)) => until.most_trials.max(self.trials),
            (None, None) => self.trials,
        }
    }

    /// What differs between this setup and `other`: names of fields and both values as JSON; empty
    /// for equal ones.
    #[must_use]
    pub fn differences(&self, other: &Self) -> Vec<[String; 3]> {
        let fields = |setup: &Self| match serde_json::to_value(setup) {
            Ok(Value::Object(map)) => map,
            _ => serde_json::Map::new(),
        };
        let (own, other) = (fields(self), fields(other));
        let said = |field: &str, value: Option<&Value>| {
            let text = value.map_or("nothing".to_owned(), ToString::to_string);
            match field {
                "strategies" => value.map_or(text, names),
                _ if text.len() <= 80 => text,
                "design" => "another design".to_owned(),
                _ => "other text".to_owned(),
            }
        };
        let all = own
            .keys()
            .chain(other.keys().filter(|f| !own.contains_key(*f)));
        // What files say is in the hash of their content.
        all.filter(|field| *field != "files" && own.get(*field) != other.get(*field))
            .map(|field| {
                let name = match field.as_str() {
                    "bendwise" => "version".to_owned(),
                    "content_hash" if !matches!(self.of, StudyOf::Sweep(_)) => {
                        "scenario content".to_owned()
                    }
                    "recorded" => "recorded trials".to_owned(),
                    _ => field.replace('_', " "),
                };
                let values = [&own, &other].map(|fields| said(field, fields.get(field)));
                let [first, second] = values;
                [name, first, second]
            })
            .collect()
    }
}

/// The names of strategies in JSON.
fn names(strategies: &Value) -> String {
    let labels = strategies.as_array().into_iter().flatten();
    let names: Vec<&str> = labels.filter_map(|l| l["name"].as_str()).collect();
    names.join(", ")
}

/// Share `number` of `of`, counted from 1: every `of`-th point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shard {
    /// Which one, from 1.
    pub number: usize,
    /// How many there are.
    pub of: usize,
}

impl Shard {
    /// Most shares of a sweep.
    pub const MOST: usize = 100_000;

    /// The whole.
    pub const WHOLE: Self = Self { number: 1, of: 1 };

    /// Whether the share has this point.
    #[must_use]
    pub fn has(&self, point: usize) -> bool {
        point % self.of == self.number - 1
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

/// A study, or a share of it: whose trials a journal or the folder of a share holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// What is computed.
    #[serde(rename = "plan")]
    pub setup: StudySetup,
    /// Which share of it.
    pub shard: Shard,
    /// How its points were dealt; `None`: every so-many-th is the share's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deal: Option<Deal>,
}

impl Part {
    /// A study in one piece.
    #[must_use]
    pub fn whole(setup: StudySetup) -> Self {
        Self::share(setup, Shard::WHOLE, None)
    }

    /// A share of a study, its points dealt so.
    #[must_use]
    pub fn share(setup: StudySetup, shard: Shard, deal: Option<Deal>) -> Self {
        Self { setup, shard, deal }
    }

    /// Whether the share has this point.
    #[must_use]
    pub fn has_point(&self, point: usize) -> bool {
        match &self.deal {
            None => self.shard.has(point),
            Some(deal) => deal.share_of(point) == Some(self.shard.number),
        }
    }

    /// The command whose work this is, as journals name it; trials of `view` count as those of a `run`.
    #[must_use]
    pub fn work(&self) -> &'static str {
        match self.setup.of {
            StudyOf::Scenario => "run",
            StudyOf::Sweep(_) | StudyOf::SoFar { .. } => "sweep",
            StudyOf::Review => "evidence",
        }
    }

    /// The points of the share in rising order.
    pub fn points(&self) -> SharePoints {
        let Shard { number, of } = self.shard;
        SharePoints::new(self.setup.points, (number, of), self.deal.as_ref())
    }

    /// Trials, where their number is known before the work.
    #[must_use]
    pub fn total(&self) -> Option<usize> {
        let setup = &self.setup;
        let decided = setup.until_width.is_none() && setup.search.is_none();
        decided.then(|| self.points().len() * setup.strategies.len() * setup.trials as usize)
    }

    /// What differs between a part that is kept and this one, in words; empty for equal ones.
    #[must_use]
    pub fn differences(&self, kept: &Self) -> String {
        let plain = |text: &str| text.trim_matches('"').to_owned();
        let mut differences = kept.setup.differences(&self.setup);
        if differences.is_empty() && kept.shard != self.shard {
            let shards = [kept.shard, self.shard].map(|shard| shard.to_string());
            let [kept, asked] = shards;
            differences.push(["shard".to_owned(), kept, asked]);
        }
        if differences.is_empty() && kept.deal != self.deal {
            let said = |deal: &Option<Deal>| deal.clone().map_or("none".to_owned(), String::from);
            differences.push([
                "deal of the points".to_owned(),
                said(&kept.deal),
                said(&self.deal),
            ]);
        }
        let texts: Vec<String> = differences
            .iter()
            .map(|[field, kept, asked]| {
                let (kept, asked) = (plain(kept), plain(asked));
                format!("{field}: kept '{kept}', asked for '{asked}'")
            })
            .collect();
        texts.join("; ")
    }
}

/// The first 16 hexadecimal digits of the SHA-256 of the running executable, or "unknown" where
/// it cannot be read.
///
/// It stands in the journal, so that trials computed by two builds of the same version never
/// end up in one result.
#[must_use]
pub fn build_fingerprint() -> String {
    fn hash() -> io::Result<String> {
        let mut file = File::open(std::env::current_exe()?)?;
        let mut hasher = Sha256::new();
        let mut block = vec![0_u8; 1 << 16];
        loop {
            let read = io::Read::read(&mut file, &mut block)?;
            if read == 0 {
                break;
            }
            hasher.update(&block[..read]);
        }
        let mut text = String::new();
        for byte in hasher.finalize().iter().take(8) {
            let _ = write!(text, "{byte:02x}");
        }
        Ok(text)
    }
    hash().unwrap_or_else(|_| "unknown".to_owned())
}
