//! A wire drawn along by its leading end against a dead load on its trailing end.

use bendwise::contact::{Contact, Surface};
use bendwise::rod::{Edge, Hinge, Rod};
use bendwise::solve::{Body, Load, Newton, NewtonOptions};
use bendwise::vessel::Lumen;
use nalgebra::Vector3;

/// What a pulled wire is made of.
#[derive(Clone, Copy)]
pub struct Cord {
    pub radius: f64,
    pub bending: f64,
    pub axial: f64,
    pub friction: f64,
    /// Foundation stiffness of the wall in mN/mm².
    pub wall: f64,
    /// Tolerance on the residual in mN.
    pub tolerance: f64,
}

/// A wire in a lumen; node 0 leads and is moved by hand along one coordinate axis.
pub struct Pulled<'a> {
    pub body: Body<'a>,
    pub newton: Newton,
    pub options: NewtonOptions,
    pub iterations: Vec<u32>,
    pub lost: f64,
    lead: usize,
    sign: f64,
}

impl<'a> Pulled<'a> {
    /// The wire through `nodes`, the first one leading along coordinate `lead` in direction
    /// `sign`, unloaded in tension.
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
    pub fn pull(&mut self, length: f64) {
        self.body.begin();
        let mut q = self.body.rod.q.clone();
        q[self.lead] += self.sign * length;
        self.body.move_to(&q);
        let found = self
            .newton
            .equilibrate(&mut self.body, &self.options)
            .expect("equilibrium");
        self.iterations.push(found.iterations);
        self.lost += self.body.settle().sliding;
    }

    /// Force of the hand on the leading end, in mN.
    pub fn force(&self) -> f64 {
        self.sign * self.newton.gradient[self.lead]
    }

    /// Turns between all edges added up, in rad.
    pub fn turned(&self) -> f64 {
        let rod = &self.body.rod;
        (1..rod.edges.len())
            .map(|i| rod.tangent(i - 1).angle(&rod.tangent(i)))
            .sum()
    }

    pub fn mean_iterations(&self) -> f64 {
        f64::from(self.iterations.iter().sum::<u32>()) / self.iterations.len() as f64
    }
}
