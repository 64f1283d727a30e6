//! Writes the folder of a look at a scene.

use std::fs;
use std::io;

use serde::Serialize;

use super::page::view_page;
use super::seen::{seen, seen_branch};
use super::summary::{ViewLine, view_summary};
use crate::projection::{MeasuredView, ViewMap};
use crate::report::figures::{MapMark, MapPanel, SeenPair, SeenPanel, ViewMapFigure};
use crate::report::outline::{OutlineBranch, SceneOutline};
use crate::report::sinks::drawing;
use crate::report::tables::{write, write_trials};
use crate::report::web::{Gallery, PageInputs, PlainPage};
use crate::scenario::view::ViewAngles;
use crate::study::store::write_file;
use crate::study::{Files, KeepError, Making, Point, Sink, StudySetup};
use crate::trial::{Examined, Prepared, ViewStudy};

/// Half the width of the drawn part of the scene in mm.
const HALF_WIDTH_MM: f64 = 38.0;

/// Keeps a look at a scene in its folder.
#[derive(Debug, Clone)]
pub struct ViewWriter<'a> {
    /// The look.
    pub study: &'a ViewStudy,
    /// The scene.
    pub prepared: &'a Prepared,
    /// The scene in words and the files that it was read from, for the page.
    pub inputs: PageInputs,
    /// What is printed at the end.
    page: Option<String>,
    /// Inputs, text and figures of `report.html`.
    named: Vec<(String, String)>,
    text: String,
    gallery: Gallery,
}

/// A row of the table of all views.
#[derive(Debug, Serialize)]
struct MapRow {
    primary_deg: f64,
    secondary_deg: f64,
    reachable: bool,
    foreshortening: f64,
    parent: Option<f64>,
    main: Option<f64>,
    branch: f64,
    overlap: f64,
    apparent_take_off_deg: Option<f64>,
    ostium: Option<f64>,
    cost: f64,
}

impl Sink for ViewWriter<'_> {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let (folder, setup, rows) = (point.folder, point.setup, point.rows);
        let summary = view_summary(self.study, self.prepared.tree(), setup, rows);
        let put = |name: &str, text: String| write_file(&folder.join(name), text);
        let json = serde_json::to_string_pretty(&summary)
            .map_err(|e| KeepError::at(&folder.join("summary.json"))(io::Error::from(e)))?;
        put("summary.json", json + "\n")?;
        let page = view_page(&summary);
        put("report.md", page.clone())?;
        self.text.clone_from(&page);
        self.named = vec![
            (
                "program".to_owned(),
                format!("bendwise {}", summary.bendwise_version),
            ),
            ("seed of the draws".to_owned(), summary.seed.to_string()),
            ("trials of each run".to_owned(), summary.trials.to_string()),
            (
                "hash of all files read (SHA-256)".to_owned(),
                summary.content_hash.clone(),
            ),
        ];
        self.page = Some(page);
        if !self.study.runs.is_empty() {
            write_trials(&folder.join("trials.csv"), rows.iter().flatten())?;
        }
        let figures = folder.join("figures");
        fs::create_dir_all(&figures).map_err(KeepError::at(&figures))?;
        let mut makings = Vec::new();
        for (place, said) in self.study.examined.iter().zip(&summary.places) {
            let table = folder.join(format!("views-{}.csv", place.site.slug));
            let rows: Vec<MapRow> = place.map.views.iter().map(map_row).collect();
            write(&table, &rows)?;
            makings.push(drawing(self.map(place, &said.customary, setup)));
            makings.push(drawing(self.pair(place, setup)));
        }
        Ok(makings)
    }

    fn made(&mut self, name: &str, bytes: &[u8]) {
        self.gallery.keep(name, bytes);
    }

    fn close(&mut self) -> Result<Files, KeepError> {
        let page = PlainPage {
            kind: "views",
            report: &self.text,
            inputs: self.named.clone(),
            more: None,
            sections: &self.inputs.sections,
            files: &self.inputs.files,
        };
        let html = page.html(&self.gallery);
        Ok(vec![("report.html".to_owned(), html.into_bytes())])
    }

    fn page(&mut self) -> Option<String> {
        self.page.take()
    }
}

impl<'a> ViewWriter<'a> {
    /// Keeps a look at this scene.
    #[must_use]
    pub fn new(study: &'a ViewStudy, prepared: &'a Prepared, inputs: PageInputs) -> Self {
        Self {
            study,
            prepared,
            inputs,
            page: None,
            named: Vec::new(),
            text: String::new(),
            gallery: Gallery::default(),
        }
    }

    fn map(&self, place: &Examined, customary: &[ViewLine], setup: &StudySetup) -> ViewMapFigure {
        let answer = &place.answer;
        let at = |view: &ViewAngles| (view.primary_deg(), view.secondary_deg());
        let mut panels = vec![
            panel("foreshortening", &place.map, |v| v.measures.foreshortening),
            panel("overlap", &place.map, |v| v.measures.overlap),
        ];
        if place.site.mouth.is_some() {
            panels.push(panel("ostium out of profile", &place.map, |v| {
                1.0 - v.measures.ostium.unwrap_or(1.0)
            }));
        }
        ViewMapFigure {
            name: format!("views-{}", place.site.slug),
            title: format!("Views of {}", place.site.name),
            subtitle: format!(
                "{}; every direction once; frame: what the C-arm can reach",
                setup.scenario
            ),
            primary_deg: place.map.primary_deg.clone(),
            secondary_deg: place.map.secondary_deg.clone(),
            panels,
            reach: self.study.c_arm.reach,
            marks: vec![
                MapMark {
                    label: format!("now: {}", answer.current.view),
                    at: at(&answer.current.view),
                },
                MapMark {
                    label: format!("recommended: {}", answer.recommended.view),
                    at: at(&answer.recommended.view),
                },
                MapMark {
                    label: format!("second view: {}", answer.second.0.view),
                    at: at(&answer.second.0.view),
                },
            ],
            customary: customary
                .iter()
                .map(|c| MapMark {
                    label: format!("{} ({})", c.what, c.view),
                    at: (c.primary_deg, c.secondary_deg),
                })
                .collect(),
        }
    }

    /// The branches that are believed to run elsewhere, as believed.
    fn believed(&self) -> Vec<OutlineBranch> {
        let beliefs = &self.study.spec.beliefs;
        let tree = self.prepared.believed();
        let branches = tree.iter().flat_map(|tree| tree.branches());
        branches
            .filter(|branch| beliefs.iter().any(|b| b.branch == branch.name))
            .map(OutlineBranch::of)
            .collect()
    }

    fn pair(&self, place: &Examined, setup: &StudySetup) -> SeenPair {
        let outline = SceneOutline::new(self.prepared);
        let believed = self.believed();
        let target = &self.prepared.tree().branches()[place.site.branch].name;
        let panel = |what: &str, view: &MeasuredView| {
            let camera = self.study.c_arm.at(&place.site, &view.view);
            let m = &view.measures;
            let percent = |share: f64| format!("{:.0} %", 100.0 * share);
            let ostium = m.ostium.map_or_else(String::new, |o| {
                format!(", ostium {} in profile", percent(o))
            });
            SeenPanel {
                title: format!("{what}: {}", view.view),
                note: format!(
                    "foreshortening {}, overlap {}{ostium}",
                    percent(m.foreshortening),
                    percent(m.overlap)
                ),
                outline: seen(&outline, &camera, target),
                believed: believed.iter().map(|b| seen_branch(b, &camera)).collect(),
                ostium: place.site.mouth.map(|mouth| {
                    let at = camera.image(&mouth.ostium);
                    (at.x, at.y)
                }),
            }
        };
        SeenPair {
            name: format!("seen-{}", place.site.slug),
            title: format!("{} now and as recommended", place.site.name),
            subtitle: format!(
                "{}; outlines as projected, at the scale of the branching; dot: ostium{}",
                setup.scenario,
                if believed.is_empty() {
                    ""
                } else {
                    "; orange: where it is believed to run"
                }
            ),
            half_width_mm: HALF_WIDTH_MM,
            panels: [
                panel("now", &place.answer.current),
                panel("recommended", &place.answer.recommended),
            ],
        }
    }
}

fn panel(name: &str, map: &ViewMap, value: impl Fn(&MeasuredView) -> f64) -> MapPanel {
    MapPanel {
        title: name.to_owned(),
        values: map.views.iter().map(value).collect(),
    }
}

fn map_row(view: &MeasuredView) -> MapRow {
    // A thousandth is far below what a view is worth; it keeps the table small.
    let short = |x: f64| (1000.0 * x).round() / 1000.0;
    let m = &view.measures;
    MapRow {
        primary_deg: view.view.primary_deg().round(),
        secondary_deg: view.view.secondary_deg().round(),
        reachable: view.reachable,
        foreshortening: short(m.foreshortening),
        parent: m.parent.map(short),
        main: m.main.map(short),
        branch: short(m.branch),
        overlap: short(m.overlap),
        apparent_take_off_deg: m.apparent_take_off_deg.map(short),
        ostium: m.ostium.map(short),
        cost: short(m.cost()),
    }
}
