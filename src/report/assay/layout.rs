//! Which columns of a test's curves stand in which panel.

use super::figure::{CurveFigure, CurvePanel, DrawnSeries, LineStyle};
use super::fit_figure::FitFigure;
use crate::assay::{Measured, Test};
use crate::scenario::bench::Bench;

/// A panel before it is filled: which columns of which series.
struct Plan {
    title: String,
    x: usize,
    y: Vec<usize>,
    log_y: bool,
    /// How the line of a condition is drawn, and the words at its end.
    takes: fn(&str) -> (LineStyle, String),
    /// How the conditions begin that belong here.
    only: String,
}

fn plan(title: impl Into<String>, x: usize, y: usize) -> Plan {
    Plan {
        title: title.into(),
        x,
        y: vec![y],
        log_y: false,
        takes: |_| (LineStyle::Solid, String::new()),
        only: String::new(),
    }
}

fn plans(test: Test, measured: &[Measured]) -> (Vec<Plan>, Vec<(LineStyle, String)>) {
    let two = |solid: &str, dashed: &str| {
        vec![
            (LineStyle::Solid, solid.to_owned()),
            (LineStyle::Dashed, dashed.to_owned()),
        ]
    };
    match test {
        Test::TipLoad => {
            let straight = Plan {
                only: "tip straight".into(),
                ..plan("tip straight", 0, 1)
            };
            let shaped = Plan {
                only: "as shaped".into(),
                ..plan("as shaped", 0, 1)
            };
            (vec![straight, shaped], Vec::new())
        }
        Test::Flexibility => {
            let held = conditions(measured, |c| c.split(',').next().unwrap_or(c).to_owned());
            let panels = held.into_iter().map(|held| Plan {
                takes: |c| {
                    let fixed = c.ends_with("fixed direction");
                    let style = if fixed {
                        LineStyle::Dashed
                    } else {
                        LineStyle::Solid
                    };
                    (style, String::new())
                },
                only: format!("{held},"),
                ..plan(held, 0, 1)
            });
            (
                panels.collect(),
                two("force square to the tip", "force of fixed direction"),
            )
        }
        Test::ThreePoint => {
            let marked = |title: &str, y| Plan {
                log_y: true,
                takes: |_| (LineStyle::Marked, String::new()),
                ..plan(title, 0, y)
            };
            (
                vec![
                    marked("Flexural stiffness", 1),
                    marked("Modulus of a solid wire of this diameter", 2),
                ],
                Vec::new(),
            )
        }
        Test::Torque => {
            let styles = two("hand turns forward", "hand turns back");
            (by_course(measured, &[1, 2, 3]), styles)
        }
        Test::Track => (by_course(measured, &[1, 2]), two("pushed in", "pulled out")),
        Test::Pinch => (vec![plan("", 0, 1)], Vec::new()),
        Test::Kink => {
            let stations = conditions(measured, str::to_owned);
            let panels = stations.into_iter().map(|station| Plan {
                only: station.clone(),
                ..plan(station, 0, 1)
            });
            (panels.collect(), Vec::new())
        }
        Test::Straightening => (
            vec![
                plan("Force on the bend", 0, 1),
                plan("How far the bend moves", 0, 2),
                plan("Turning lost within 10 mm", 0, 3),
            ],
            Vec::new(),
        ),
        // Drawn by `fit_figure`.
        Test::Fit => (Vec::new(), Vec::new()),
    }
}

/// A row of panels for each tube, a panel for each of the columns.
fn by_course(measured: &[Measured], columns: &[usize]) -> Vec<Plan> {
    let courses = conditions(measured, |c| c.split(',').next().unwrap_or(c).to_owned());
    let panel = |course: &String, y| Plan {
        takes: there_and_back,
        only: format!("{course},"),
        ..plan(course.clone(), 0, y)
    };
    let row = |course: &String| {
        columns
            .iter()
            .map(|&y| panel(course, y))
            .collect::<Vec<_>>()
    };
    courses.iter().flat_map(row).collect()
}

fn there_and_back(condition: &str) -> (LineStyle, String) {
    let back = condition.ends_with("back") || condition.ends_with("out");
    let style = if back {
        LineStyle::Dashed
    } else {
        LineStyle::Solid
    };
    (style, String::new())
}

/// Different values of a part of the conditions, in their order.
fn conditions(measured: &[Measured], part: impl Fn(&str) -> String) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for series in measured.iter().flat_map(|m| &m.series) {
        let value = part(&series.condition);
        if !found.contains(&value) {
            found.push(value);
        }
    }
    found
}

/// Words of an axis: the column's name with its unit.
fn axis(test: Test, column: usize) -> String {
    let (name, unit) = test.columns()[column];
    let name = name.replace('_', " ");
    if unit.is_empty() {
        name
    } else {
        format!("{name} ({unit})")
    }
}

/// The figure of a test with all wires; `None` if nothing was measured.
#[must_use]
pub fn figure(test: Test, bench: &Bench, measured: &[Measured]) -> Option<CurveFigure> {
    let (plans, styles) = plans(test, measured);
    let panels: Vec<CurvePanel> = plans
        .into_iter()
        .map(|plan| panel(test, &plan, measured))
        .filter(|panel| !panel.series.is_empty())
        .collect();
    if panels.is_empty() {
        return None;
    }
    Some(CurveFigure {
        name: test.slug().to_owned(),
        title: test.title().to_owned(),
        subtitle: format!("{}; {}", bench.name, subtitle(test, bench)),
        wires: bench.wires.iter().map(|w| w.name.clone()).collect(),
        styles,
        most_columns: if test == Test::Torque { 3 } else { 2 },
        panels,
    })
}

/// The figure of the fits; `None` if there is none.
#[must_use]
pub fn fits(bench: &Bench, measured: &[Measured]) -> Option<FitFigure> {
    let wires = bench.wires.iter().zip(measured);
    let fits: Vec<_> = wires
        .flat_map(|(wire, of_wire)| {
            of_wire
                .fits
                .iter()
                .map(|fit| (wire.name.clone(), fit.clone()))
        })
        .collect();
    (!fits.is_empty()).then(|| FitFigure {
        name: Test::Fit.slug().to_owned(),
        title: Test::Fit.title().to_owned(),
        subtitle: format!("{}; {}", bench.name, subtitle(Test::Fit, bench)),
        fits,
    })
}

fn panel(test: Test, plan: &Plan, measured: &[Measured]) -> CurvePanel {
    let mut series = Vec::new();
    for (wire, of_wire) in measured.iter().enumerate() {
        for one in &of_wire.series {
            if !one.condition.starts_with(&plan.only) {
                continue;
            }
            let (style, label) = (plan.takes)(&one.condition);
            let columns = std::iter::once(&plan.x).chain(&plan.y);
            let points = one.points.iter();
            series.push(DrawnSeries {
                wire,
                style,
                label,
                points: points
                    .map(|p| columns.clone().map(|&c| p[c]).collect())
                    .collect(),
            });
        }
    }
    CurvePanel {
        title: plan.title.clone(),
        x_name: axis(test, plan.x),
        y_name: axis(test, plan.y[0]),
        log_y: plan.log_y,
        series,
    }
}

/// The fixture in a line.
fn subtitle(test: Test, bench: &Bench) -> String {
    let a = &bench.assay;
    match test {
        Test::TipLoad => format!(
            "held {} mm behind the tip, driven against a plate",
            a.tip_load.held_mm
        ),
        Test::Flexibility => "side force at the tip against the angle by which it is turned".into(),
        Test::ThreePoint => format!(
            "span {} mm, deflection {} mm",
            a.three_point.span_mm, a.three_point.deflection_mm
        ),
        Test::Torque | Test::Track => format!("tubes of {} mm", a.paths.lumen_mm),
        Test::Pinch => format!(
            "clamp force {:.0} gf on {} mm; pull against travel of the hand",
            crate::units::mn_to_gram_force(a.pinch.clamp_mn),
            a.pinch.jaw_mm
        ),
        Test::Kink => "loop between two plates that come together; above 1 the core yields".into(),
        Test::Straightening => format!(
            "bend of {} mm radius and {:.0}°, lumen {} mm, tissue {} mN/mm², wall {} MPa",
            a.straightening.radius_mm,
            a.straightening.angle_rad.to_degrees(),
            a.straightening.lumen_mm,
            a.straightening.tissue_stiffness_mn_per_mm2,
            a.straightening.wall_modulus_mpa
        ),
        Test::Fit => {
            "readings are drawn where they say most about the wire, above the fitted line \
                      by as much as their load is above the fitted one"
                .into()
        }
    }
}
