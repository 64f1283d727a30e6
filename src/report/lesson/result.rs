//! `lesson.json`: every page with what it says, filled, and with the measured value of each claim.

use std::fmt::Write as _;

use serde::{Deserialize, Serialize};

use crate::projection::Beam;
use crate::scenario::lesson::PageView;
use crate::scenario::lesson::model::PageSpec;
use crate::scenario::view::SightSpec;
use crate::study::StudySetup;
use crate::study::lesson::{Changed, CheckedClaim, FalseClaim, LessonPage, MeasuredPages};

/// A lesson that was built.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LessonResult {
    /// Short name.
    pub lesson: String,
    /// What it is called.
    pub title: String,
    /// What it teaches.
    pub description: String,
    /// Version of the program.
    pub bendwise_version: String,
    /// Fingerprint of the executable.
    pub build: String,
    /// Name of the scenario.
    pub scenario: String,
    /// SHA-256 over the lesson file and the files of its scenario.
    pub files_hash: String,
    /// Seed of the draws.
    pub seed: u64,
    /// Trials of each page.
    pub trials: u32,
    /// The pages.
    pub pages: Vec<PageResult>,
}

/// How the playback of a page opens.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OpeningResult {
    /// The view, in words.
    pub view: String,
    /// Direction of the view in the scene, where it is one of a C-arm.
    pub axes: Option<ViewAxes>,
    /// How far it is turned from there, to the right and up, in degrees.
    pub turned_deg: [f64; 2],
    /// The moment, as it is named in a lesson file.
    pub moment: String,
}

/// Directions of a view in the scene; unit vectors.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ViewAxes {
    /// To the right in the picture.
    pub right: [f64; 3],
    /// Up in the picture.
    pub up: [f64; 3],
    /// Towards the viewer.
    pub toward: [f64; 3],
}

impl OpeningResult {
    fn new(page: &PageSpec, built: &LessonPage) -> Self {
        let scenario = built.prepared.scenario();
        let sight = scenario.techniques[built.strategy.technique].sight;
        let view = scenario.view.as_ref();
        let angles = match (page.opening.view, sight) {
            (PageView::Angles(angles), _) | (PageView::CArm, SightSpec::Projected(angles)) => {
                Some(angles)
            }
            (PageView::CArm, SightSpec::Full) => view.map(|view| view.current),
            _ => None,
        };
        let seen = angles.zip(view);
        let axes = seen.map(|(angles, view)| {
            let beam = Beam::in_scene(&angles, &view.frame.to_patient);
            ViewAxes {
                right: beam.right.into(),
                up: beam.up.into(),
                toward: beam.along.into(),
            }
        });
        Self {
            view: angles.map_or_else(
                || page.opening.view.written(),
                |angles| format!("as by the C-arm, {angles}"),
            ),
            axes,
            turned_deg: page.opening.turned_deg,
            moment: page.opening.moment.written().to_owned(),
        }
    }
}

/// A page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PageResult {
    /// Name by which other pages speak of it.
    pub name: String,
    /// Name of its trials in tables.
    pub strategy: String,
    /// What it is called.
    pub title: String,
    /// How its playback opens.
    pub opening: OpeningResult,
    /// What is different from the page before.
    pub changed: Option<Changed>,
    /// Technique.
    pub technique: String,
    /// Wire.
    pub wire: String,
    /// Its sentence or two.
    pub text: String,
    /// What to look at.
    pub look: String,
    /// What its trials show.
    pub claims: Vec<ClaimResult>,
    /// What is asked.
    pub ask: String,
    /// The answer.
    pub answer: String,
}

/// A claim that its trials bear out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClaimResult {
    /// The sentence.
    pub says: String,
    /// What is claimed, as the lesson writes it.
    pub claim: String,
    /// The measured value.
    pub value: f64,
    /// The measured value with its unit.
    pub measured: String,
}

impl From<CheckedClaim> for ClaimResult {
    fn from(checked: CheckedClaim) -> Self {
        Self {
            says: checked.says,
            claim: checked.claim,
            value: checked.value,
            measured: checked.measured,
        }
    }
}

impl PageResult {
    /// Its name in names of files.
    #[must_use]
    pub fn slug(&self) -> String {
        self.name.to_lowercase()
    }
}

impl LessonResult {
    /// The lesson with what its trials measure.
    ///
    /// # Errors
    /// The first claim that they do not bear out.
    pub fn new(measured: &MeasuredPages<'_>, setup: &StudySetup) -> Result<Self, FalseClaim> {
        let (spec, pages) = (measured.spec, measured.pages);
        let page = |number: usize| -> Result<PageResult, FalseClaim> {
            let (page, built) = (&spec.pages[number], &pages.pages[number]);
            let question = page.place.field("question");
            let [technique, wire] = built.at_work();
            let claims = measured.claims(number)?;
            Ok(PageResult {
                name: page.name.clone(),
                strategy: setup.strategies[number].name.clone(),
                title: built.title.clone(),
                opening: OpeningResult::new(page, built),
                changed: built.changed.clone(),
                technique: technique.to_owned(),
                wire: wire.to_owned(),
                text: measured.text(number, &page.text, &page.place.field("text"))?,
                look: measured.text(number, &page.look, &page.place.field("look"))?,
                claims: claims.into_iter().map(ClaimResult::from).collect(),
                ask: measured.text(number, &page.ask, &question.field("ask"))?,
                answer: measured.text(number, &page.answer, &question.field("answer"))?,
            })
        };
        Ok(Self {
            lesson: spec.name.clone(),
            title: spec.title.clone(),
            description: spec.description.clone(),
            bendwise_version: setup.version.clone(),
            build: setup.build.clone(),
            scenario: pages.base.scenario.name.clone(),
            files_hash: pages.files_hash.clone(),
            seed: setup.seed,
            trials: setup.trials,
            pages: (0..spec.pages.len()).map(page).collect::<Result<_, _>>()?,
        })
    }

    /// What is printed once it is built.
    #[must_use]
    pub fn printed(&self) -> String {
        let mut out = format!("{}\n", self.title);
        for (number, page) in self.pages.iter().enumerate() {
            let _ = writeln!(out, "\n{}. {}", number + 1, page.title);
            for claim in &page.claims {
                let _ = writeln!(out, "   - {}", claim.says);
            }
        }
        out
    }
}
