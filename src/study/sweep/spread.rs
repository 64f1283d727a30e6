//! A tree given as polar points, spread about its published mean.

use nalgebra::{Cholesky, DMatrix, DVector, Vector3};
use rand_distr::{Distribution, StandardNormal};
use toml::Value;

use super::anatomy::generator;
use super::error::SweepError;
use crate::scenario::sweep::model::{SpreadPlace, SpreadSpec, number};
use crate::schema::Place;

/// Distance in mm over which published places are averaged to give the spread of a point.
const NEAR_MM: f64 = 10.0;
/// Keeps the covariance of points that coincide invertible: relative to the variance.
const NUGGET: f64 = 1e-8;
/// First stream of the draws for r, theta and phi.
const STREAM: u64 = 128;
/// Most points that are spread together: their covariance takes the square of it in memory.
const MOST_POINTS: usize = 1000;

/// Draws trees about the published mean.
///
/// Each of r, theta and phi of the points moves by its published standard deviation times a
/// Gaussian field of mean 0 and variance 1, with covariance exp(-d²/2l²) between points at
/// distance d, so that neighbouring points move together and branches stay attached. r is drawn
/// log-normal with its published mean and coefficient of variation, so that it stays above 0.
/// The standard deviations are published (J. T. Dodge et al., Circulation 78:1167-1180, 1988, as
/// transcribed); branches whose points count from another origin stay as they are. That
/// neighbouring points move together is not in the tables, and the length l is
/// ours.
#[derive(Debug, Clone)]
pub struct Drawer {
    /// Where each point stands: number of the branch, number of the point.
    points: Vec<(usize, usize)>,
    means: Vec<[f64; 3]>,
    deviations: Vec<[f64; 3]>,
    root: DMatrix<f64>,
}

impl Drawer {
    /// Reads the points of a scenario's branches.
    ///
    /// # Errors
    ///
    /// Where no branch has `points_cm_deg`, or the field cannot be drawn.
    pub fn new(spec: &SpreadSpec, place: Place, document: &Value) -> Result<Self, SweepError> {
        let mut points = Vec::new();
        let mut means = Vec::new();
        let branches = document
            .get("vessel")
            .and_then(|vessel| vessel.get("branch"))
            .and_then(Value::as_array);
        for (branch, table) in branches.into_iter().flatten().enumerate() {
            // The published places count from one ostium; another origin is another tree.
            if table.get("origin_mm").is_some() {
                continue;
            }
            let polar = table.get("points_cm_deg").and_then(Value::as_array);
            for (index, point) in polar.into_iter().flatten().enumerate() {
                if let Some(mean) = triple(point) {
                    points.push((branch, index));
                    means.push(mean);
                }
            }
        }
        if points.is_empty() {
            return Err(SweepError::Anatomy {
                reason: "no branch of the scenario has points_cm_deg to spread".into(),
                place,
            });
        }
        if points.len() > MOST_POINTS {
            return Err(SweepError::Anatomy {
                reason: format!(
                    "the branches have {} points to spread together, allowed are up to \
                     {MOST_POINTS}; give fewer points",
                    points.len()
                ),
                place,
            });
        }
        let places: Vec<Vector3<f64>> = means.iter().map(cartesian_mm).collect();
        let covariance = DMatrix::from_fn(points.len(), points.len(), |i, j| {
            let d = (places[i] - places[j]).norm() / spec.together_mm;
            (-0.5 * d * d).exp() + if i == j { NUGGET } else { 0.0 }
        });
        let root = Cholesky::new(covariance)
            .ok_or_else(|| SweepError::Anatomy {
                reason: format!(
                    "points that move together over {} mm cannot be drawn; choose a smaller together_mm",
                    spec.together_mm
                ),
                place,
            })?
            .unpack();
        let deviations = places.iter().map(|p| spread_at(&spec.places, p)).collect();
        Ok(Self {
            points,
            means,
            deviations,
            root,
        })
    }

    /// Puts the tree numbered `draw` into a scenario, with all deviations times `factor`.
    ///
    /// # Errors
    ///
    /// In words, where the scenario no longer has the points.
    pub fn perturb(
        &self,
        document: &mut Value,
        factor: f64,
        seed: u64,
        draw: u64,
    ) -> Result<(), String> {
        let drawn = self.draw(factor, seed, draw);
        let mut branches = document
            .get_mut("vessel")
            .and_then(|vessel| vessel.get_mut("branch"))
            .and_then(Value::as_array_mut)
            .ok_or("the scenario has no branches")?
            .iter_mut()
            .map(|branch| {
                branch
                    .get_mut("points_cm_deg")
                    .and_then(Value::as_array_mut)
            })
            .collect::<Vec<_>>();
        for (&(branch, index), point) in self.points.iter().zip(drawn) {
            let entry = branches
                .get_mut(branch)
                .and_then(Option::as_mut)
                .and_then(|points| points.get_mut(index))
                .ok_or("a branch lost points that are to be spread")?;
            *entry = Value::Array(point.map(Value::Float).to_vec());
        }
        Ok(())
    }

    /// The points of the tree numbered `draw`: r in cm, theta and phi in degrees.
    #[must_use]
    pub fn draw(&self, factor: f64, seed: u64, draw: u64) -> Vec<[f64; 3]> {
        let fields: Vec<DVector<f64>> = (0..3)
            .map(|coordinate| {
                let mut rng = generator(seed, draw, STREAM + coordinate);
                let normal =
                    DVector::from_fn(self.points.len(), |_, _| StandardNormal.sample(&mut rng));
                &self.root * normal
            })
            .collect();
        let one = |(index, (mean, sd)): (usize, (&[f64; 3], &[f64; 3]))| {
            let z = |coordinate: usize| fields[coordinate][index];
            let cv = if mean[0] > 0.0 {
                factor * sd[0] / mean[0]
            } else {
                0.0
            };
            let variance = (cv * cv).ln_1p();
            [
                mean[0] * (variance.sqrt() * z(0) - 0.5 * variance).exp(),
                mean[1] + factor * sd[1] * z(1),
                mean[2] + factor * sd[2] * z(2),
            ]
        };
        let all = self.means.iter().zip(&self.deviations);
        all.enumerate().map(one).collect()
    }
}

fn triple(value: &Value) -> Option<[f64; 3]> {
    let [r, theta, phi] = value.as_array()?.as_slice() else {
        return None;
    };
    Some([number(r)?, number(theta)?, number(phi)?])
}

/// A polar point (r in cm, angles in degrees) in mm.
fn cartesian_mm(&[r, theta, phi]: &[f64; 3]) -> Vector3<f64> {
    let (theta, phi) = (theta.to_radians(), phi.to_radians());
    10.0 * r * Vector3::new(phi.cos() * theta.sin(), phi.sin(), phi.cos() * theta.cos())
}

/// Spread at a point: the mean of the published places, those nearby weighing most.
fn spread_at(places: &[SpreadPlace], point: &Vector3<f64>) -> [f64; 3] {
    let distances: Vec<f64> = places
        .iter()
        .map(|place| (cartesian_mm(&place.at) - point).norm() / NEAR_MM)
        .collect();
    let nearest = distances.iter().copied().fold(f64::INFINITY, f64::min);
    // Relative to the nearest, so that a point far from all has the nearest one's spread.
    let weights = distances
        .iter()
        .map(|d| (0.5 * (nearest * nearest - d * d)).exp());
    let mut sum = 0.0;
    let mut sd = [0.0; 3];
    for (weight, place) in weights.zip(places) {
        sum += weight;
        for (mean, value) in sd.iter_mut().zip(place.sd) {
            *mean += weight * value;
        }
    }
    sd.map(|value| value / sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawer() -> Drawer {
        let document: toml::Table = "[vessel]\n[[vessel.branch]]\nname = \"a\"\n\
             points_cm_deg = [[0, 0, 0], [0.7, 80, 4], [5.3, 44, -12]]\n"
            .parse()
            .unwrap();
        let spec = SpreadSpec {
            places: vec![
                SpreadPlace {
                    at: [0.7, 80.0, 4.0],
                    sd: [0.4, 20.0, 15.0],
                },
                SpreadPlace {
                    at: [5.3, 44.0, -12.0],
                    sd: [0.8, 7.0, 9.0],
                },
            ],
            together_mm: 20.0,
            factor: 1.0,
        };
        Drawer::new(&spec, Place::default(), &Value::Table(document)).unwrap()
    }

    /// LM mid and L2 mid of Dodge 1988: r 0.7 ± 0.4 and 5.3 ± 0.8 cm, theta 80 ± 20 and 44 ± 7
    /// degrees.
    #[test]
    fn drawn_trees_have_the_published_mean_and_spread() {
        let drawer = drawer();
        let draws = 4000;
        let all: Vec<_> = (0..draws).map(|k| drawer.draw(1.0, 3, k)).collect();
        let moments = |point: usize, coordinate: usize| {
            let values = all.iter().map(|tree| tree[point][coordinate]);
            let mean = values.clone().sum::<f64>() / draws as f64;
            let variance = values.map(|v| (v - mean).powi(2)).sum::<f64>() / draws as f64;
            (mean, variance.sqrt())
        };
        // Four standard errors of a mean or a deviation over 4000 draws, a log-normal's more.
        for (point, coordinate, mean, sd) in [
            (1, 0, 0.7, 0.4),
            (2, 0, 5.3, 0.8),
            (1, 1, 80.0, 20.0),
            (2, 1, 44.0, 7.0),
            (2, 2, -12.0, 9.0),
        ] {
            let (found, spread) = moments(point, coordinate);
            assert!(
                (found - mean).abs() < 0.065 * sd,
                "{point} {coordinate}: mean {found}"
            );
            assert!(
                (spread / sd - 1.0).abs() < 0.12,
                "{point} {coordinate}: sd {spread}"
            );
        }
        assert!(all.iter().all(|tree| tree[0][0] == 0.0 && tree[1][0] > 0.0));
    }

    #[test]
    fn without_spread_the_tree_is_the_mean() {
        let drawn = drawer().draw(0.0, 3, 5);
        for (drawn, mean) in drawn[1].iter().zip([0.7, 80.0, 4.0]) {
            approx::assert_relative_eq!(*drawn, mean);
        }
    }
}
