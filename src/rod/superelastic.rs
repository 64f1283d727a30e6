//! An element that flows along a plateau, up to a largest flow, and returns along a lower plateau.
//!
//! Equation: `phi(d; p) = min over |p'| <= L of |d - p'|²/2 + b |p'| + r |p' - p|`,
//! `b = y (1 + c)/2`, `r = y (1 - c)/2`, `L = y l`
//!
//! Symbols: `d` curvature, `p` flow (of the transformation) before the step, `p'` after it, `y`
//! threshold of the upper plateau (all integrated over the cell, 1); `c` lower plateau over upper,
//! `l` length of the plateau over the strain at which it begins.
//!
//! The energy `b |p'|` is stored and drives the flow back; `r |p' - p|` is lost. Along one line this is
//! the flag law: flow grows at the moment `y`, shrinks at `c y`, likewise on the other side. Source of
//! the flag law in one dimension: Auricchio and Lubliner, Int. J. Solids Struct. 34:3601, 1997 (from
//! memory); the form as an incremental potential and its use in the plane are ours. In the plane it is
//! convex in curvature and flow together and has no preferred direction; how a real wire that is bent
//! and turned within the plateau behaves has not been compared with measurements.

use super::flow::LeastPotential;

type Vector = nalgebra::Vector2<f64>;
type Matrix = nalgebra::Matrix2<f64>;

/// Plateaus of a superelastic core.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flag {
    /// Stress of the lower plateau over that of the upper, 0 to 1.
    pub lower_over_upper: f64,
    /// Length of the upper plateau in strain over the strain at which it begins, above 0.
    pub length: f64,
}

impl Flag {
    /// Moment at which flow is stored, for a threshold `y`.
    pub(super) fn back(&self, y: f64) -> f64 {
        0.5 * (1.0 + self.lower_over_upper) * y
    }

    /// Moment at which flow is lost, for a threshold `y`.
    fn loss(&self, y: f64) -> f64 {
        0.5 * (1.0 - self.lower_over_upper) * y
    }
}

/// Relative distance at which a flow counts as being at its largest, and a vector as nothing: some
/// roundings.
const SAME: f64 = 1e-13;
/// Relative slack of a force on the edge of what holds a flow.
const EDGE: f64 = 1e-11;

/// The answer to the curvature `d` of an element with flow `p` and threshold `y`.
pub(super) fn answer(d: [f64; 2], p: [f64; 2], y: f64, flag: &Flag) -> LeastPotential {
    let (d, p) = (Vector::from(d), Vector::from(p));
    let element = Plateau {
        d,
        p,
        back: flag.back(y),
        loss: flag.loss(y),
        most: flag.length * y,
    };
    let (flow, softening) = element.flow();
    let moment = d - flow;
    let hessian = Matrix::identity() - softening;
    let lost = element.loss * (flow - p).norm();
    LeastPotential {
        potential: 0.5 * moment.norm_squared() + element.back * flow.norm() + lost,
        moment: moment.into(),
        hessian: [hessian[(0, 0)], hessian[(1, 0)], hessian[(1, 1)]],
        flow: flow.into(),
        lost,
    }
}

struct Plateau {
    d: Vector,
    p: Vector,
    back: f64,
    loss: f64,
    most: f64,
}

impl Plateau {
    /// The flow of least potential, and its derivative with respect to the curvature.
    fn flow(&self) -> (Vector, Matrix) {
        let nothing = (Vector::zeros(), Matrix::zeros());
        let size = self.p.norm();
        if size <= self.tiny() {
            return self.first_flow().unwrap_or(nothing);
        }
        let out = self.p / size;
        let mut drive = self.d - self.p - out * self.back;
        if size >= self.most * (1.0 - SAME) {
            drive -= out * drive.dot(&out).max(0.0);
        }
        // A flow that was settled at this curvature stands on the very edge.
        if drive.norm() <= self.loss * (1.0 + EDGE) {
            return (self.p, Matrix::zeros());
        }
        if (self.d + out * self.loss).norm() <= self.back * (1.0 + EDGE) {
            return nothing;
        }
        let free = self.free();
        if free.norm() > self.most {
            return self.at_most(&out);
        }
        (free, self.softening(&free))
    }

    /// Flow of an element that has none yet; `None` below the plateau.
    fn first_flow(&self) -> Option<(Vector, Matrix)> {
        let (size, begins) = (self.d.norm(), self.back + self.loss);
        if size <= begins {
            return None;
        }
        let n = self.d / size;
        let across = Matrix::identity() - n * n.transpose();
        let flow = size - begins;
        Some(if flow > self.most {
            (n * self.most, across * (self.most / size))
        } else {
            (n * flow, across * (flow / size) + n * n.transpose())
        })
    }

    /// Size of a vector that counts as nothing.
    fn tiny(&self) -> f64 {
        SAME * (self.back + self.loss)
    }

    fn potential(&self, flow: &Vector) -> f64 {
        0.5 * (self.d - flow).norm_squared()
            + self.back * flow.norm()
            + self.loss * (flow - self.p).norm()
    }

    /// A flow near `kink`, where the potential has an edge and the force `drive` overcomes its `hold`,
    /// that lies lower.
    fn off(&self, kink: Vector, drive: Vector, hold: f64) -> Vector {
        let edge = self.potential(&kink);
        let mut way = drive * (1.0 - hold / drive.norm());
        for _ in 0..50 {
            if self.potential(&(kink + way)) < edge {
                break;
            }
            way *= 0.5;
        }
        kink + way
    }

    /// The flow of least potential without a largest flow, where that is neither nothing nor what it
    /// was: Newton's method on a strongly convex potential, from a place that lies lower than both
    /// edges, so that it never comes back to them.
    fn free(&self) -> Vector {
        let out = self.p / self.p.norm();
        let mut flow = self.off(self.p, self.d - self.p - out * self.back, self.loss);
        let other = self.off(Vector::zeros(), self.d + out * self.loss, self.back);
        if self.potential(&other) < self.potential(&flow) {
            flow = other;
        }
        let scale = self.back + self.loss + self.d.norm();
        let noise = 4.0 * f64::EPSILON * scale * scale;
        for _ in 0..100 {
            let way = flow - self.p;
            let gradient = flow - self.d + unit(&flow) * self.back + unit(&way) * self.loss;
            if gradient.norm() <= SAME * scale {
                break;
            }
            let step = self.softening(&flow) * gradient;
            let (before, slope) = (self.potential(&flow), gradient.dot(&step));
            let mut share = 1.0;
            while share > 1e-12
                && self.potential(&(flow - step * share)) > before - 1e-4 * share * slope + noise
            {
                share *= 0.5;
            }
            flow -= step * share;
        }
        flow
    }

    /// Inverse of the potential's second derivative in the flow.
    fn softening(&self, flow: &Vector) -> Matrix {
        let stiff = |v: &Vector, force: f64| -> Matrix {
            let size = v.norm().max(self.tiny());
            let n = v / size;
            (Matrix::identity() - n * n.transpose()) * (force / size)
        };
        let h = Matrix::identity() + stiff(flow, self.back) + stiff(&(flow - self.p), self.loss);
        let det = h.determinant();
        Matrix::new(h[(1, 1)], -h[(0, 1)], -h[(1, 0)], h[(0, 0)]) / det
    }

    /// The flow of least potential among those of the largest size, which lies between the direction
    /// `out` of the flow that was there and that of the curvature.
    fn at_most(&self, out: &Vector) -> (Vector, Matrix) {
        let aim = out.perp(&self.d).atan2(out.dot(&self.d));
        let side = Vector::new(-out.y, out.x);
        let place = |angle: f64| {
            let (sin, cos) = angle.sin_cos();
            ((out * cos + side * sin), (side * cos - out * sin))
        };
        let size = self.p.norm();
        // Slope and second derivative in the angle of the part that changes.
        let along = |angle: f64| {
            let (u, t) = place(angle);
            let way = (u * self.most - self.p).norm().max(self.tiny());
            let turn = self.most * size * angle.sin() / way;
            let bend = (self.most * size * angle.cos() - turn * turn) / way;
            (
                self.loss * turn - self.most * self.d.dot(&t),
                self.loss * bend + self.most * self.d.dot(&u),
            )
        };
        let (mut low, mut high) = (0.0, aim);
        let mut angle = 0.5 * aim;
        for _ in 0..100 {
            let (slope, curvature) = along(angle);
            if slope * aim.signum() > 0.0 {
                high = angle;
            } else {
                low = angle;
            }
            let newton = angle - slope / curvature;
            let inside = (newton - low) * (newton - high) < 0.0;
            let next = if inside { newton } else { 0.5 * (low + high) };
            if (next - angle).abs() <= SAME {
                break;
            }
            angle = next;
        }
        let (u, t) = place(angle);
        let (_, curvature) = along(angle);
        let softening = t * t.transpose() * (self.most * self.most / curvature);
        (u * self.most, softening)
    }
}

/// The vector's direction; nothing where it has none.
fn unit(v: &Vector) -> Vector {
    let size = v.norm();
    if size > 0.0 {
        v / size
    } else {
        Vector::zeros()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The least potential by looking at more and more narrow grids around the best so far.
    fn slow_least(element: &Plateau) -> f64 {
        let mut best = (f64::INFINITY, Vector::zeros());
        let mut width = element.most;
        for _ in 0..60 {
            let centre = best.1;
            for i in -6..=6_i32 {
                for j in -6..=6_i32 {
                    let mut flow = centre + Vector::new(f64::from(i), f64::from(j)) * (width / 6.0);
                    if flow.norm() > element.most {
                        flow *= element.most / flow.norm();
                    }
                    let here = element.potential(&flow);
                    if here < best.0 {
                        best = (here, flow);
                    }
                }
            }
            for kink in [Vector::zeros(), element.p] {
                if element.potential(&kink) < best.0 {
                    best = (element.potential(&kink), kink);
                }
            }
            width *= 0.6;
        }
        best.0
    }

    #[test]
    fn the_flow_has_the_least_potential() {
        let turned = |size: f64, angle: f64| Vector::new(size * angle.cos(), size * angle.sin());
        for (i, size) in [0.0, 0.3, 1.0, 1.7, 3.0, 5.0, 9.0].into_iter().enumerate() {
            for k in 0..24_u32 {
                for held in [0.0, 0.01, 0.5, 2.0, 3.999, 4.0] {
                    let angle = 0.1 + f64::from(k) * 0.13 * (1.0 + 0.01 * i as f64);
                    let element = Plateau {
                        d: turned(size, angle),
                        p: turned(held, 0.1),
                        back: 2.0 / 3.0,
                        loss: 1.0 / 3.0,
                        most: 4.0,
                    };
                    let (flow, _) = element.flow();
                    let (found, least) = (element.potential(&flow), slow_least(&element));
                    // The slow one comes to within 1e-8 of the least on the circle.
                    assert!(
                        found - least < 1e-12 && least - found < 1e-7 && flow.norm() < 4.0 + 1e-9,
                        "d {size} at {angle}, p {held}: {found} at {flow}, least {least}"
                    );
                }
            }
        }
    }
}
