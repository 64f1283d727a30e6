//! The figure of the fits: a row for each, with the profile and the readings over it.

use plotters::style::RGBColor;

use super::figure::{dashed, decades, range};
use crate::assay::fit::{Fitted, FittedReading, FittedSet, ProfilePoint};
use crate::report::figures::palette::{FRAME, GRID, INK, MARK, SOFT_INK, pale};
use crate::report::figures::{
    Figure, FigureError, HEADING_BOTTOM, MARGIN, Pen, Plot, Type, WIDTH, heading, text_width,
    wire_colour, wrap,
};
use crate::scenario::bench::FitKind;

const LEGEND_LINE: f64 = 20.0;
const TITLE_LINE: f64 = 17.0;
const LEFT: f64 = 78.0;
const BETWEEN: f64 = 84.0;
const PANEL_HEIGHT: f64 = 300.0;
const BELOW: f64 = 56.0;
/// Share of the width that the profile takes.
const PROFILE_SHARE: f64 = 0.62;
/// How much of the wire behind the last reading is shown, over the length up to it.
const SHOWN_BEHIND: f64 = 0.25;
const MARKER: f64 = 4.0;

/// The fits of a bench.
#[derive(Debug, Clone, PartialEq)]
pub struct FitFigure {
    /// Name of the files.
    pub name: String,
    /// Title.
    pub title: String,
    /// The line below it.
    pub subtitle: String,
    /// Each fit with the name of the wire that was described.
    pub fits: Vec<(String, Fitted)>,
}

/// Colour of set number `index` of a fit; the fit itself is blue.
fn set_colour(index: usize) -> RGBColor {
    wire_colour(index % 5 + 1)
}

/// A fit with the wire that was described, and the top of its row in points.
struct Row<'a> {
    fitted: &'a Fitted,
    described: &'a str,
    top: f64,
}

impl FitFigure {
    /// Entries of the legend that all rows share, with their widths for marks of the width `mark`.
    fn legend(mark: f64) -> Vec<(&'static str, f64)> {
        let words = [
            "fitted, with 95 % interval",
            "wire as described",
            "no reading reaches: as described",
        ];
        let style = Type::new(13.0, SOFT_INK);
        words
            .map(|w| (w, mark + text_width(w, style) + 24.0))
            .to_vec()
    }

    fn row_height(&self) -> f64 {
        let most = self.fits.iter().map(|(_, fitted)| set_lines(fitted)).max();
        TITLE_LINE + LEGEND_LINE * most.unwrap_or(1) as f64 + 12.0 + PANEL_HEIGHT + BELOW
    }
}

/// Places of the names of the sets: x, and line from 0.
fn set_places(fitted: &Fitted) -> Vec<(f64, usize)> {
    let style = Type::new(12.0, SOFT_INK);
    let (mut x, mut line) = (LEFT, 0);
    let mut places = Vec::new();
    for set in &fitted.sets {
        let width = 18.0 + text_width(&set_words(set), style) + 22.0;
        if x + width > f64::from(WIDTH) - MARGIN && x > LEFT {
            x = LEFT;
            line += 1;
        }
        places.push((x, line));
        x += width;
    }
    places
}

fn set_lines(fitted: &Fitted) -> usize {
    set_places(fitted).last().map_or(1, |(_, line)| line + 1)
}

fn set_words(set: &FittedSet) -> String {
    let what = match set.kind {
        Some(FitKind::ThreePoint) => ", three-point bending",
        Some(FitKind::Flexibility) => ", tip flexibility",
        None => "",
    };
    format!("{}{what}, error {:.1} %", set.name, 100.0 * set.error)
}

impl Figure for FitFigure {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some thousand points"
    )]
    fn size(&self) -> (u32, u32) {
        let rows = self.fits.len() as f64;
        let height = HEADING_BOTTOM + 12.0 + LEGEND_LINE + 8.0 + rows * self.row_height();
        (WIDTH, height.ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(pen, &self.title, &self.subtitle)?;
        let (mut x, y) = (MARGIN, HEADING_BOTTOM + 12.0);
        for (entry, (words, width)) in Self::legend(36.0).into_iter().enumerate() {
            let ends = [(x, y), (x + 26.0, y)];
            match entry {
                0 => {
                    pen.fill((x, y - 6.0), (x + 26.0, y + 6.0), pale(MARK, 0.25))?;
                    pen.line(&ends, 2.2, MARK)?;
                }
                1 => dashed(pen, &ends, 1.8, INK)?,
                _ => pen.fill((x, y - 6.0), (x + 26.0, y + 6.0), GRID)?,
            }
            pen.text(words, (x + 34.0, y), Type::new(13.0, SOFT_INK))?;
            x += width;
        }
        for (index, (described, fitted)) in self.fits.iter().enumerate() {
            let top = y + LEGEND_LINE + 8.0 + index as f64 * self.row_height();
            Row {
                fitted,
                described,
                top,
            }
            .draw(pen)?;
        }
        Ok(())
    }
}

impl Row<'_> {
    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let fitted = self.fitted;
        let title = format!(
            "{}: {} readings of \"{}\"",
            fitted.name, fitted.readings, self.described
        );
        let style = Type::new(13.0, INK).bold();
        let width = f64::from(WIDTH) - LEFT - MARGIN;
        for line in wrap(&title, width, style).iter().take(1) {
            pen.text(line, (LEFT, self.top), style)?;
        }
        for (number, (set, (x, line))) in fitted.sets.iter().zip(set_places(fitted)).enumerate() {
            let y = self.top + TITLE_LINE + LEGEND_LINE * line as f64;
            marker(pen, set.kind, (x + 5.0, y), set_colour(number))?;
            pen.text(&set_words(set), (x + 18.0, y), Type::new(12.0, SOFT_INK))?;
        }
        let top = self.top + TITLE_LINE + LEGEND_LINE * set_lines(fitted) as f64 + 4.0;
        let wide = PROFILE_SHARE * (width - BETWEEN);
        let x = (0.0, self.shown_to());
        let plot = |left: f64, right: f64, y: (f64, f64)| Plot {
            left,
            top,
            right,
            bottom: top + PANEL_HEIGHT,
            x,
            y,
        };
        self.profile(pen, &plot(LEFT, LEFT + wide, self.profile_range()))?;
        let right = f64::from(WIDTH) - MARGIN;
        self.residuals(
            pen,
            &plot(LEFT + wide + BETWEEN, right, self.residual_range()),
        )
    }

    /// End in mm of the part of the wire that is drawn.
    fn shown_to(&self) -> f64 {
        let reached = self.fitted.reach.stretches.last().map_or(0.0, |r| r.1);
        let end = self.fitted.profile.last().map_or(0.0, |p| p.station_mm);
        end.min((1.0 + SHOWN_BEHIND) * reached).max(reached)
    }

    /// The profile up to there; the point that follows is moved onto the end.
    fn shown(&self) -> Vec<ProfilePoint> {
        let to = self.shown_to();
        let profile = &self.fitted.profile;
        let inside = profile.iter().take_while(|p| p.station_mm <= to).copied();
        let mut points: Vec<ProfilePoint> = inside.collect();
        if let (Some(last), Some(next)) = (points.last().copied(), profile.get(points.len())) {
            let share = (to - last.station_mm) / (next.station_mm - last.station_mm);
            let between = |a: f64, b: f64| a.powf(1.0 - share) * b.powf(share);
            points.push(ProfilePoint {
                station_mm: to,
                stiffness: between(last.stiffness, next.stiffness),
                described: between(last.described, next.described),
                ..*next
            });
        }
        points
    }

    fn profile_range(&self) -> (f64, f64) {
        let along = self.shown().into_iter().flat_map(|p| {
            let (low, high) = p.interval.unwrap_or((p.stiffness, p.stiffness));
            [low, high, p.described]
        });
        let readings = self.fitted.sets.iter().flat_map(|set| &set.readings);
        let readings = readings.map(|reading| self.stiffness_of(reading));
        range(along.chain(readings).map(|b| (b / 1e3).log10()), false)
    }

    fn residual_range(&self) -> (f64, f64) {
        let ends = self.fitted.sets.iter().flat_map(|set| {
            let error = 100.0 * set.error;
            set.readings
                .iter()
                .flat_map(move |r| [off(r) - error, off(r) + error])
        });
        range(ends, true)
    }

    /// The stiffness at which a reading is drawn: above the profile by as much as its load is above
    /// the fitted one.
    fn stiffness_of(&self, reading: &FittedReading) -> f64 {
        let profile = &self.fitted.profile;
        let behind = profile.partition_point(|p| p.station_mm <= reading.station_mm);
        let at = match (profile.get(behind.wrapping_sub(1)), profile.get(behind)) {
            (Some(a), Some(b)) => {
                let share = (reading.station_mm - a.station_mm) / (b.station_mm - a.station_mm);
                a.stiffness.powf(1.0 - share) * b.stiffness.powf(share)
            }
            (Some(only), None) | (None, Some(only)) => only.stiffness,
            (None, None) => f64::NAN,
        };
        at * reading.measured_mn / reading.fitted_mn
    }

    /// Marks the stretches that no reading reaches.
    fn bands(&self, pen: &Pen<'_>, plot: &Plot) -> Result<(), FigureError> {
        for (from, to) in self.fitted.reach.beyond(plot.x.1) {
            let corner = plot.map(from.max(plot.x.0), plot.y.1);
            let opposite = plot.map(to.min(plot.x.1), plot.y.0);
            pen.fill(corner, opposite, GRID)?;
        }
        Ok(())
    }

    fn profile(&self, pen: &Pen<'_>, plot: &Plot) -> Result<(), FigureError> {
        self.bands(pen, plot)?;
        plot.x_ticks(pen, false)?;
        decades(pen, plot)?;
        let at = |s: f64, b: f64| plot.map(s, (b / 1e3).log10());
        let points = self.shown();
        for run in points.chunk_by(|a, b| a.interval.is_some() == b.interval.is_some()) {
            let ends = run
                .iter()
                .filter_map(|p| p.interval.map(|i| (p.station_mm, i)));
            let low: Vec<_> = ends.clone().map(|(s, (low, _))| at(s, low)).collect();
            let high = ends.map(|(s, (_, high))| at(s, high));
            let corners: Vec<_> = low.into_iter().chain(high.rev()).collect();
            if corners.len() > 2 {
                pen.polygon(&corners, pale(MARK, 0.25))?;
            }
        }
        let fitted: Vec<_> = points
            .iter()
            .map(|p| at(p.station_mm, p.stiffness))
            .collect();
        pen.line(&fitted, 2.2, MARK)?;
        let described: Vec<_> = points
            .iter()
            .map(|p| at(p.station_mm, p.described))
            .collect();
        dashed(pen, &described, 1.8, INK)?;
        for knot in &self.fitted.knots {
            let ends = [knot.low, knot.high].map(|b| at(knot.station_mm, b));
            pen.line(&ends, 2.0, MARK)?;
            for (x, y) in ends {
                pen.line(&[(x - 4.0, y), (x + 4.0, y)], 2.0, MARK)?;
            }
        }
        for (number, set) in self.fitted.sets.iter().enumerate() {
            for reading in &set.readings {
                let place = at(reading.station_mm, self.stiffness_of(reading));
                marker(pen, set.kind, place, set_colour(number))?;
            }
        }
        plot.frame(pen)?;
        plot.x_name(pen, "distance from the tip (mm)")?;
        plot.y_name(pen, "bending stiffness (N mm²)", 56.0)
    }

    fn residuals(&self, pen: &Pen<'_>, plot: &Plot) -> Result<(), FigureError> {
        self.bands(pen, plot)?;
        plot.x_ticks(pen, false)?;
        plot.y_ticks(pen, true)?;
        pen.line(
            &[plot.map(plot.x.0, 0.0), plot.map(plot.x.1, 0.0)],
            1.5,
            FRAME,
        )?;
        for (number, set) in self.fitted.sets.iter().enumerate() {
            let colour = set_colour(number);
            for reading in &set.readings {
                let error = 100.0 * set.error;
                let bar = [-error, error].map(|e| plot.map(reading.station_mm, off(reading) + e));
                pen.line(&bar, 1.2, pale(colour, 0.6))?;
                marker(
                    pen,
                    set.kind,
                    plot.map(reading.station_mm, off(reading)),
                    colour,
                )?;
            }
        }
        plot.frame(pen)?;
        plot.x_name(pen, "place that a reading says most about (mm)")?;
        plot.y_name(pen, "measured load above the fit (%)", 56.0)
    }
}

/// How far a measured load lies above the fitted one, in per cent.
fn off(reading: &FittedReading) -> f64 {
    100.0 * (reading.measured_mn / reading.fitted_mn - 1.0)
}

/// A disc for three-point bending, a square for flexibility, a triangle for a tip load.
fn marker(
    pen: &Pen<'_>,
    kind: Option<FitKind>,
    (x, y): (f64, f64),
    colour: RGBColor,
) -> Result<(), FigureError> {
    let r = MARKER;
    match kind {
        Some(FitKind::ThreePoint) => pen.disc((x, y), r, colour),
        Some(FitKind::Flexibility) => pen.fill((x - r, y - r), (x + r, y + r), colour),
        None => {
            let corners = [(x, y - 1.5 * r), (x + 1.4 * r, y + r), (x - 1.4 * r, y + r)];
            pen.polygon(&corners, colour)
        }
    }
}
