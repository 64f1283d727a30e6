//! A slow twin: a round section of many fibres, each with its own stress and flow.
//!
//! Lengths in radii, strains in those at which a fibre yields, stresses in the stress there, so that
//! the outermost fibre yields at the curvature 1 and the moment there is 1.

use std::f64::consts::PI;

/// Law of a fibre.
#[derive(Clone, Copy)]
pub enum Fibre {
    /// Elastic, perfectly plastic.
    Plastic,
    /// Flag: lower plateau over upper, length of the plateau over the strain at which it begins.
    Flag(f64, f64),
}

impl Fibre {
    /// Flow after a change of the strain to `strain`.
    fn flow(self, strain: f64, flow: f64) -> f64 {
        let stress = strain - flow;
        match self {
            Self::Plastic => flow + stress - stress.clamp(-1.0, 1.0),
            Self::Flag(lower, length) => {
                // On the side of the present flow, and then on the other.
                let side = if flow != 0.0 {
                    flow.signum()
                } else {
                    stress.signum()
                };
                let (stress, held) = (stress * side, flow * side);
                let moved = if stress > 1.0 {
                    (held + stress - 1.0).min(length)
                } else if stress < lower {
                    (held + stress - lower).max(0.0)
                } else {
                    held
                };
                let moved = if held > 0.0 || stress > 0.0 {
                    moved
                } else {
                    0.0
                };
                if moved == 0.0 && strain * side < -1.0 {
                    return -side * ((-strain * side - 1.0).min(length));
                }
                side * moved
            }
        }
    }
}

/// A section of fibres in rings.
pub struct Section {
    law: Fibre,
    /// Place across two axes, area and flow.
    fibres: Vec<([f64; 2], f64, f64)>,
}

impl Section {
    /// A section with `rings` rings of `around` fibres.
    pub fn new(law: Fibre, rings: u32, around: u32) -> Self {
        let mut fibres = Vec::new();
        for ring in 0..rings {
            let (inner, outer) = (
                f64::from(ring) / f64::from(rings),
                f64::from(ring + 1) / f64::from(rings),
            );
            // Radius at which one fibre has the moment of inertia of its ring.
            let radius = ((inner * inner + outer * outer) / 2.0).sqrt();
            let area = PI * (outer * outer - inner * inner) / f64::from(around);
            for k in 0..around {
                let angle = 2.0 * PI * (f64::from(k) + 0.5) / f64::from(around);
                fibres.push(([radius * angle.cos(), radius * angle.sin()], area, 0.0));
            }
        }
        Self { law, fibres }
    }

    /// Bends the section; returns the moment.
    pub fn bend(&mut self, curvature: [f64; 2]) -> [f64; 2] {
        let mut moment = [0.0; 2];
        for ([x, y], area, flow) in &mut self.fibres {
            let strain = curvature[0] * *x + curvature[1] * *y;
            *flow = self.law.flow(strain, *flow);
            let stress = (strain - *flow) * *area * 4.0 / PI;
            moment[0] += stress * *x;
            moment[1] += stress * *y;
        }
        moment
    }
}
