//! A wire drawn along by its leading end against a dead load on its trailing end.

use crate::contact::{Contact, Surface};
use crate::evidence::Broken;
use crate::rod::{Edge, Hinge, Rod};
use crate::solve::{Body, Load, Newton, NewtonOptions};
use crate::vessel::Lumen;
use nalgebra::Vector3;

/// What a pulled wire is made of.
#[derive(Debug, Clone, Copy)]
pub struct Cord {
    /// Radius in mm.
    pub radius: f64,
    /// Bending stiffness in mN mm².
    pub bending: f64,
    /// Axial stiffness in mN.
    pub axial: f64,
    /// Coulomb coefficient.
    pub friction: f64,
    /// Foundation stiffness of the wall in mN/mm².
    pub wall: f64,
    /// Tolerance on the residual in mN.
    pub tolerance: f64,
}

/// A wire in a lumen; node 0 leads and is moved by hand along one coordinate axis.
pub struct Pulled<'a> {
    /// The wire in its lumen.
    pub body: Body<'a>,
    /// What finds its equilibrium.
    pub newton: Newton,
    /// When it counts as found.
    pub options: NewtonOptions,
    /// Newton iterations of every pull.
    pub iterations: Vec<u32>,
    /// Energy lost to sliding in mN mm.
    pub lost: f64,
    lead: usize,
    sign: f64,
}

impl<'a> Pulled<'a> {
    /// The wire through `nodes`, the first one leading along coordinate `lead` in direction
    /// `sign`, unloaded in tension.
    #[must_use]
    pub fn new(
        cord: &Cord,
        lumen: &'a dyn Lumen,
        nodes: &[Vector3<f64>],
        lead: usize,
        sign: f64,
    ) -> Self {
        let lengths: Vec<f64> = nodes.windows(2).map(|w| (w[1] - w[0]).norm()).collect();
        let edges = lengths
            .iter()
            .map(|&rest_length| Edge {
                rest_length,
                axial_stiffness: cord.axial,
            })
            .collect();
        let hinges = (0..nodes.len())
            .map(|i| {
                let behind = if i > 0 { lengths[i - 1] } else { 0.0 };
                let ahead = lengths.get(i).copied().unwrap_or(0.0);
                Hinge::uniform(0.5 * (behind + ahead), cord.bending, cord.bending)
            })
            .collect();
        let rod = Rod::new(nodes, edges, hinges, Vector3::z());
        let surface = Surface {
            radius: cord.radius,
            friction: cord.friction,
            wall: cord.wall.into(),
            spacing: lengths.iter().copied().fold(0.0, f64::max) + 1e-9,
        };
        let contact = Contact::new(lumen, surface, &rod, rod.edges.len(), false);
        let mut body = Body::new(rod).with_contact(contact);
        body.fixed.push(lead);
        body.fix_rotation(0);
        let mut options = NewtonOptions::with_tolerance(cord.tolerance);
        options.max_iterations = 400;
        Self {
            body,
            newton: Newton::default(),
            options,
            iterations: Vec::new(),
            lost: 0.0,
            lead,
            sign,
        }
    }

    /// A dead load on coordinate `c` of node `i` in mN.
    pub fn load(&mut self, i: usize, c: usize, force: f64) {
        self.body.loads.push(Load {
            unknown: 4 * i + c,
            force,
        });
    }

    /// Moves the leading end by `length` mm and lets the wire follow.
    ///
    /// # Errors
    ///
    /// Where no equilibrium is found.
    pub fn pull(&mut self, length: f64) -> Result<(), Broken> {
        self.body.begin();
        let mut q = self.body.rod.q.clone();
        q[self.lead] += self.sign * length;
        self.body.move_to(&q);
        let found = self.newton.equilibrate(&mut self.body, &self.options)?;
        self.iterations.push(found.iterations);
        self.lost += self.body.settle().sliding;
        Ok(())
    }

    /// Force of the hand on the leading end, in mN.
    #[must_use]
    pub fn force(&self) -> f64 {
        self.sign * self.newton.gradient[self.lead]
    }

    /// Turns between all edges added up, in rad.
    #[must_use]
    pub fn turned(&self) -> f64 {
        let rod = &self.body.rod;
        (1..rod.edges.len())
            .map(|i| rod.tangent(i - 1).angle(&rod.tangent(i)))
            .sum()
    }

    /// Newton iterations of a pull, on average.
    #[must_use]
    pub fn mean_iterations(&self) -> f64 {
        f64::from(self.iterations.iter().sum::<u32>()) / self.iterations.len() as f64
    }
}
