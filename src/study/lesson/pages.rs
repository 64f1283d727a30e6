//! From a lesson to the scenario of each page.

mod checked;

use std::fmt::Write as _;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use thiserror::Error;
use toml::Value;

use self::checked::{check_branches, check_texts, check_view};
use super::words;
use crate::anatomy::Importer;
use crate::scenario::lesson::model::{Change, PageSpec};
use crate::scenario::lesson::{LoadedLesson, Piece};
use crate::scenario::{self, Loaded, ScenarioError, load_text_with, nearest};
use crate::schema::Place;
use crate::schema::publish::without_directive;
use crate::shown::{cut, listed};
use crate::study::setup::{StrategyLabel, StudySetup};
use crate::study::sweep::ScenarioPath;
use crate::study::sweep::document::{inline_tree, parse, reason, text};
use crate::trial::{BuiltVessel, Prepared, Strategy, strategies};

/// Why a lesson cannot be built.
#[derive(Debug, Error)]
pub enum LessonError {
    /// Its scenario cannot be read.
    #[error(transparent)]
    Base(ScenarioError),
    /// The scenario does not take what a place of the lesson says.
    #[error("{reason}")]
    At {
        /// Where in the lesson.
        place: Place,
        /// What is wrong.
        reason: String,
        /// What to do.
        remedy: String,
    },
}

/// The one thing that a page changes, with both values as words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Changed {
    /// What it is called, such as `tip load of wire "stiff 3 gf"`, "technique" or "wire".
    pub what: String,
    /// Where it stands in the scenario; `None` for another technique or wire.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub path: Option<String>,
    /// On the page before.
    pub from: String,
    /// On this page.
    pub to: String,
}

/// A page with its scenario.
#[derive(Debug)]
pub struct LessonPage {
    /// What it is called, filled.
    pub title: String,
    /// What is different from the page before.
    pub changed: Option<Changed>,
    /// Its scenario, read.
    pub loaded: Loaded,
    /// Its scenario, built.
    pub prepared: Arc<Prepared>,
    /// Its technique with its wire.
    pub strategy: Strategy,
    document: Value,
}

/// The pages of a lesson.
#[derive(Debug)]
pub struct LessonPages {
    /// The pages in their order.
    pub pages: Vec<LessonPage>,
    /// The files of the scenario as it is without the lesson's changes.
    pub base: Loaded,
    /// SHA-256 over the lesson file and every file of its scenario, in hexadecimal.
    pub files_hash: String,
}

impl LessonPage {
    /// Technique and wire by name.
    #[must_use]
    pub fn at_work(&self) -> [&str; 2] {
        let scenario = self.prepared.scenario();
        [
            &scenario.techniques[self.strategy.technique].name,
            &scenario.wires[self.strategy.wire].name,
        ]
    }

    /// A piece of a text that needs no trial, in words; `None` for one that does.
    ///
    /// # Errors
    /// That the scenario has no such value.
    pub fn words(&self, piece: &Piece) -> Result<Option<String>, String> {
        let [technique, wire] = self.at_work();
        Ok(Some(match piece {
            Piece::Plain(words) => words.clone(),
            Piece::Technique => technique.to_owned(),
            Piece::Wire => wire.to_owned(),
            Piece::Set(path) => self.set(path)?,
            Piece::Measured(_) => return Ok(None),
        }))
    }

    /// The value at a path, with its unit.
    fn set(&self, text: &str) -> Result<String, String> {
        let path = ScenarioPath::parse(text)?;
        match path.values(&self.document)[..] {
            [value] => Ok(words::value(text, value)),
            [] => {
                let near = path.astray(&self.document, None).near;
                let near = near.map_or(String::new(), |near| format!("; did you mean {near}?"));
                Err(format!("the scenario has no value at {}{near}", cut(text)))
            }
            _ => Err(format!("{} are several values", cut(text))),
        }
    }
}

impl LessonPages {
    /// Reads the scenario of a lesson, makes the changes of each page and builds what comes out.
    ///
    /// # Errors
    /// [`LessonError`], with the place in the lesson.
    pub fn read(lesson: &LoadedLesson) -> Result<Self, LessonError> {
        let spec = &lesson.spec;
        let base = scenario::load(&spec.scenario).map_err(LessonError::Base)?;
        let at = |place: &Place, reason: String, remedy: &str| LessonError::At {
            place: place.clone(),
            reason,
            remedy: remedy.to_owned(),
        };
        let mut document = parse(&base.source.text)
            .and_then(|mut document| {
                inline_tree(&mut document, &spec.scenario)?;
                Ok(document)
            })
            .map_err(|reason| at(&spec.scenario_place, reason, "correct the scenario"))?;
        for (path, place) in &spec.removed {
            apply(&mut document, path, None, place)?;
        }
        for set in &spec.set {
            apply(&mut document, &set.path, Some(&set.value), &set.place)?;
        }
        let mut builder = Builder {
            lesson,
            importer: Importer::default(),
            vessel: None,
            technique: spec.technique.clone(),
            wire: spec.wire.clone(),
        };
        let mut pages = Vec::with_capacity(spec.pages.len());
        for page in &spec.pages {
            let built = builder.page(page, &mut document)?;
            pages.push(built);
        }
        for (page, built) in spec.pages.iter().zip(&pages) {
            check_branches(page, built)?;
            check_view(page, built)?;
        }
        let mut hasher = Sha256::new();
        for text in [without_directive(&lesson.source.text), &base.content_hash] {
            hasher.update((text.len() as u64).to_le_bytes());
            hasher.update(text.as_bytes());
        }
        Ok(Self {
            pages,
            files_hash: hex(hasher),
            base,
        })
    }

    /// The study whose strategies are the pages. Its hash covers what its trials come from and no text of
    /// the lesson, so that trials stay when a text is corrected.
    ///
    /// # Panics
    /// Never: a lesson has a page.
    #[must_use]
    pub fn setup(&self, lesson: &LoadedLesson) -> StudySetup {
        let spec = &lesson.spec;
        let mut hasher = Sha256::new();
        hasher.update(self.base.content_hash.as_bytes());
        let labels = spec.pages.iter().zip(&self.pages).enumerate();
        let labels = labels.map(|(number, (page, built))| {
            let [technique, wire] = built.at_work();
            let scenario = text(&built.document).unwrap_or_default();
            for part in [scenario.as_str(), technique, wire] {
                hasher.update((part.len() as u64).to_le_bytes());
                hasher.update(part.as_bytes());
            }
            StrategyLabel {
                name: format!("page {}, {}", number + 1, page.name),
                slug: page.name.to_lowercase(),
                technique: technique.to_owned(),
                wire: wire.to_owned(),
            }
        });
        let labels = labels.collect();
        let first = self.pages[0].prepared.scenario();
        let mut setup = StudySetup::of_scenario(first, &hex(hasher), labels);
        setup.scenario.clone_from(&spec.name);
        setup
    }
}

fn hex(hasher: Sha256) -> String {
    let mut hex = String::new();
    for byte in hasher.finalize() {
        let _ = write!(hex, "{byte:02x}");
    }
    hex
}

/// Makes one page after the other.
struct Builder<'l> {
    lesson: &'l LoadedLesson,
    importer: Importer,
    vessel: Option<BuiltVessel>,
    technique: Option<String>,
    wire: Option<String>,
}

impl Builder<'_> {
    fn page(&mut self, page: &PageSpec, document: &mut Value) -> Result<LessonPage, LessonError> {
        let place = match &page.change {
            None => self.lesson.spec.scenario_place.clone(),
            Some(Change::Value(set)) => set.place.clone(),
            Some(Change::Technique(_)) => page.place.field("change").field("technique"),
            Some(Change::Wire(_)) => page.place.field("change").field("wire"),
        };
        let at = |reason: String, remedy: &str| LessonError::At {
            place: place.clone(),
            reason,
            remedy: remedy.to_owned(),
        };
        let mut changed = None;
        let before = document.clone();
        if let Some(Change::Value(set)) = &page.change {
            let old = apply(document, &set.path, Some(&set.value), &place)?;
            let said = |value: &Value| words::value(&set.path, value);
            changed = Some(Changed {
                what: words::place(&set.path),
                path: Some(set.path.clone()),
                from: old.as_ref().map_or("not set".to_owned(), said),
                to: said(&set.value),
            });
        }
        let path = &self.lesson.spec.scenario;
        let text = text(document).map_err(|reason| at(reason, "correct the value"))?;
        let mut loaded = load_text_with(path, text, &self.importer).map_err(|error| {
            at(
                changed_reason(&error),
                "give a value that the scenario can take",
            )
        })?;
        let spec = &self.lesson.spec;
        let study = &mut loaded.scenario.study;
        study.trials = spec.trials;
        study.recorded = spec.recorded;
        study.seed = spec.seed.unwrap_or(study.seed);
        let scenario = &loaded.scenario;
        let built = match self
            .vessel
            .take()
            .filter(|built| built.is(&scenario.vessel))
        {
            Some(built) => Ok(built),
            None => BuiltVessel::new(&scenario.vessel),
        };
        let prepared = built
            .and_then(|built| Prepared::in_vessel(scenario, self.vessel.insert(built)))
            .map_err(|error| at(format!("the page cannot be built: {error}"), error.remedy()))?;
        let techniques: Vec<&str> = scenario.techniques.iter().map(|t| &*t.name).collect();
        let wires: Vec<&str> = scenario.wires.iter().map(|w| &*w.name).collect();
        let top = |field| Place::top(field);
        match &page.change {
            Some(Change::Technique(name)) => {
                let from = self.technique.replace(name.clone());
                changed = Some(switched("technique", from, name, &techniques));
            }
            Some(Change::Wire(name)) => {
                let from = self.wire.replace(name.clone());
                changed = Some(switched("wire", from, name, &wires));
            }
            _ => {}
        }
        let by_page = |field: &'static str| match &page.change {
            None => top(field),
            Some(_) => place.clone(),
        };
        let technique = named(
            self.technique.as_deref(),
            &techniques,
            &by_page("technique"),
        )?;
        let wire = named(self.wire.as_deref(), &wires, &by_page("wire"))?;
        if let Some(changed) = &changed
            && changed.from == changed.to
            && before == *document
        {
            return Err(at(
                format!("{} is {} on the page before too", changed.what, changed.to),
                "change something",
            ));
        }
        let mut all = strategies(scenario).into_iter();
        let strategy = all.find(|s| (s.technique, s.wire) == (technique, wire));
        let strategy =
            strategy.ok_or_else(|| at("there is no such strategy".to_owned(), "choose another"))?;
        let mut built = LessonPage {
            title: String::new(),
            changed,
            prepared: Arc::new(prepared),
            strategy,
            document: document.clone(),
            loaded,
        };
        built.title = check_texts(page, &built)?;
        Ok(built)
    }
}

fn switched(what: &str, from: Option<String>, to: &str, known: &[&str]) -> Changed {
    let first = || known.first().copied().unwrap_or_default().to_owned();
    Changed {
        what: what.to_owned(),
        path: None,
        from: from.unwrap_or_else(first),
        to: to.to_owned(),
    }
}

/// Number of a name; of the first where none is given.
fn named(asked: Option<&str>, known: &[&str], place: &Place) -> Result<usize, LessonError> {
    let Some(asked) = asked else {
        return Ok(0);
    };
    let found = known.iter().position(|name| *name == asked);
    found.ok_or_else(|| LessonError::At {
        place: place.clone(),
        reason: format!("the scenario has no {} here", cut(asked)),
        remedy: match nearest(asked, known.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"? There is {}", listed(known)),
            None => format!("there is {}", listed(known)),
        },
    })
}

/// Sets or removes the value at a path that leads to one place, and returns what stood there.
fn apply(
    document: &mut Value,
    written: &str,
    value: Option<&Value>,
    place: &Place,
) -> Result<Option<Value>, LessonError> {
    let at = |reason: String, remedy: &str| LessonError::At {
        place: place.clone(),
        reason,
        remedy: remedy.to_owned(),
    };
    let path = ScenarioPath::parse(written).map_err(|reason| at(reason, "correct the path"))?;
    let old = path.values(document).first().map(|old| (*old).clone());
    let places = match value {
        Some(value) => path.set(document, value),
        None => path.remove(document),
    };
    if places == 0 {
        let near = path.astray(document, None).near;
        let near = near.map_or(String::new(), |near| format!("; did you mean {near}?"));
        return Err(at(
            format!("the scenario has no place {}{near}", cut(written)),
            "correct the path",
        ));
    }
    if places > 1 && value.is_some() && place.steps().len() > 3 {
        return Err(at(
            format!(
                "{} leads to {places} places; a page changes one thing",
                cut(written)
            ),
            "name one of them in place of *",
        ));
    }
    Ok(old)
}

fn changed_reason(error: &ScenarioError) -> String {
    format!(
        "with this change the scenario cannot be used: {}",
        reason(error)
    )
}
