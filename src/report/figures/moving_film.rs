//! A film of one trial for a slide: an animated GIF, and an SVG whose frames take turns. What stays is
//! drawn once.

use std::fmt::Write as _;

use super::axis::Plot;
use super::canvas::{FigureError, drawn, pixels};
use super::film::{Film, FilmFrame, MARGIN, TOP, shape};
use super::gif::GifWriter;
use super::palette::PAPER;
use super::pen::Pen;
use crate::study::{Files, KeepError};

/// Size in points: that of a projector's picture.
const SIZE: (u32, u32) = (1280, 720);
/// Height of the picture in points; below it stand the texts.
const PICTURE: f64 = 440.0;
/// How long a frame stands in s, and how long the last one does.
const STANDS_S: f64 = 0.25;
const LAST_STANDS_S: f64 = 4.0;

/// A film; its frames follow each other in time.
#[derive(Debug, Clone, PartialEq)]
pub struct MovingFilm(pub Film);

impl MovingFilm {
    /// `<folder>/<name>.gif` and `<folder>/<name>.svg`: names and bytes.
    ///
    /// # Errors
    ///
    /// What a backend reports.
    pub fn files(&self, folder: &str) -> Result<Files, KeepError> {
        let name = format!("{folder}/{}", self.0.name);
        let failed = |reason: FigureError| KeepError::Output {
            what: format!("cannot draw {name}"),
            reason: reason.to_string(),
        };
        let scene = drawn(SIZE, true, |pen| self.draw_scene(pen)).map_err(failed)?;
        let frames = self.0.frames.iter();
        let frames: Result<Vec<String>, FigureError> = frames
            .map(|frame| drawn(SIZE, false, |pen| self.draw_frame(pen, frame)))
            .collect();
        let frames = frames.map_err(failed)?;
        let gif = gif(&scene, &frames).map_err(failed)?;
        let svg = animated(&scene, &frames).into_bytes();
        Ok(vec![
            (format!("{name}.gif"), gif),
            (format!("{name}.svg"), svg),
        ])
    }

    fn plot(&self, frame: Option<&FilmFrame>) -> Plot {
        let window = frame.and_then(|f| f.window).unwrap_or(self.0.window);
        let width = PICTURE * shape();
        let left = 0.5 * (f64::from(SIZE.0) - width);
        Plot {
            left,
            right: left + width,
            top: TOP,
            bottom: TOP + PICTURE,
            x: (window.low.x, window.high.x),
            y: (window.low.y, window.high.y),
        }
    }

    /// What all frames share.
    fn draw_scene(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        self.0
            .draw_heading(pen, f64::from(SIZE.0), PICTURE * shape())?;
        match self.shared() {
            Some(frame) => self.0.draw_vessel(pen, &self.plot(None), frame),
            None => Ok(()),
        }
    }

    /// The frame whose vessel is that of the scene which all frames share.
    fn shared(&self) -> Option<&FilmFrame> {
        self.0.frames.iter().find(|frame| is_here(frame))
    }

    fn draw_frame(&self, pen: &Pen<'_>, frame: &FilmFrame) -> Result<(), FigureError> {
        let plot = self.plot(Some(frame));
        let balloon_mm = self.shared().map(|shared| shared.balloon_mm);
        let is_shared = balloon_mm.is_some_and(|mm| (mm - frame.balloon_mm).abs() < 1e-9);
        if !is_here(frame) || !is_shared {
            pen.fill((plot.left, plot.top), (plot.right, plot.bottom), PAPER)?;
            self.0.draw_vessel(pen, &plot, frame)?;
        }
        self.0.draw_devices(pen, &plot, frame)?;
        // The texts begin at the margin, to have room.
        let text = Plot {
            left: MARGIN,
            right: f64::from(SIZE.0) - MARGIN,
            ..plot
        };
        Film::draw_text(pen, &text, frame)
    }
}

/// Whether a frame shows the vessel at rest, at the place of the film.
fn is_here(frame: &FilmFrame) -> bool {
    frame.outline.is_none() && frame.window.is_none()
}

fn gif(scene: &str, frames: &[String]) -> Result<Vec<u8>, FigureError> {
    let scene = pixels(scene, None)?;
    let shown = |frame: &String| pixels(frame, Some(&scene));
    let ends = [frames.first(), frames.last()].into_iter().flatten();
    let ends: Result<Vec<_>, _> = ends.map(shown).collect();
    let mut recording = GifWriter::new(&scene, &ends?)?;
    for (number, frame) in frames.iter().enumerate() {
        let stands = if number + 1 == frames.len() {
            LAST_STANDS_S
        } else {
            STANDS_S
        };
        recording.add(&shown(frame)?, stands)?;
    }
    recording.finish()
}

/// The frames take turns by the style sheet in the file; where none is obeyed, the last one is seen.
fn animated(scene: &str, frames: &[String]) -> String {
    let (begin, end) = scene.rsplit_once("</svg>").unwrap_or((scene, ""));
    let all = STANDS_S * frames.len().saturating_sub(1) as f64 + LAST_STANDS_S;
    let percent = |stands: f64| 100.0 * stands / all;
    let mut svg = format!(
        "{begin}<style>.film {{ visibility: hidden; animation: one {all}s step-end infinite; }} \
         .film.last {{ visibility: visible; animation-name: last; }} \
         @keyframes one {{ 0% {{ visibility: visible; }} {:.4}%, 100% {{ visibility: hidden; }} }} \
         @keyframes last {{ 0% {{ visibility: hidden; }} {:.4}%, 100% {{ visibility: visible; }} }}</style>\n",
        percent(STANDS_S),
        100.0 - percent(LAST_STANDS_S),
    );
    for (number, frame) in frames.iter().enumerate() {
        let inner = frame
            .split_once("<svg")
            .and_then(|(_, rest)| rest.split_once('>'));
        let inner = inner.and_then(|(_, rest)| rest.rsplit_once("</svg>"));
        let inner = inner.map_or("", |(inner, _)| inner);
        let _ = if number + 1 == frames.len() {
            writeln!(svg, "<g class=\"film last\">{inner}</g>")
        } else {
            // A frame waits hidden until its turn comes.
            let delay = STANDS_S * number as f64;
            writeln!(
                svg,
                "<g class=\"film\" style=\"animation-delay: {delay}s\">{inner}</g>"
            )
        };
    }
    svg + "</svg>" + end
}
