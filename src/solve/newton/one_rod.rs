//! What the searches for an equilibrium ask of one rod.

use nalgebra::Vector3;

use super::Newton;
use crate::contact::{Between, Contact, Forces};
use crate::rod::Kinematics;
use crate::solve::body::Body;
use crate::solve::consistent::Consistent;
use crate::solve::search::{NewtonOptions, Search, Step};

/// One rod, what acts on it, and when it counts as in equilibrium.
pub(in crate::solve) struct OneRod<'s, 'a, const S: usize, const W: usize> {
    pub newton: &'s mut Newton<W>,
    pub body: &'s mut Body<'a, S>,
    pub options: &'s NewtonOptions,
}

impl<const S: usize, const W: usize> Search for OneRod<'_, '_, S, W> {
    fn follow(&mut self, share: f64) {
        self.body.follow(share);
    }
    fn choose_points(&mut self) {
        self.body.choose_points();
    }
    fn uncover(&mut self) -> Between {
        self.body.uncover()
    }
    fn assess(&mut self) -> Result<f64, usize> {
        self.newton.assess(self.body, self.options)
    }
    fn friction_ratio(&self) -> f64 {
        self.body.friction_ratio()
    }
    fn off_mm(&self) -> f64 {
        self.body.off_mm()
    }
    fn step(&mut self) -> Option<Step> {
        self.newton.step(self.body, self.options)
    }
}

impl<const S: usize, const W: usize> Consistent for OneRod<'_, '_, S, W> {
    type Unknowns = (Vec<f64>, Kinematics, Vec<Vector3<f64>>);

    fn unknowns(&self) -> Self::Unknowns {
        let rod = &self.body.rod;
        let vessel = self.body.giving.as_ref().map(|g| g.moved.clone());
        (
            rod.q.clone(),
            rod.kinematics().clone(),
            vessel.unwrap_or_default(),
        )
    }
    fn put_back(&mut self, (q, kinematics, vessel): &Self::Unknowns) {
        self.body.rod.commit(q, &mut kinematics.clone());
        self.body.move_vessel(vessel, 0.0, vessel);
    }
    fn has_contacts(&self) -> bool {
        self.body.contacts().next().is_some()
    }
    fn hardness(&self) -> f64 {
        self.body.hardness()
    }
    fn soften(&mut self, share: f64) {
        self.body.contacts_mut().for_each(|c| c.softened = share);
    }
    fn couple_friction(&mut self, coupled: bool) {
        let contacts = self.body.contacts_mut();
        contacts.for_each(|c| c.couple_friction(coupled));
    }
    fn anticipate_held(&mut self) {
        self.body.anticipate_held();
    }
    fn anticipate(&mut self, share: f64) {
        let (step, of_vessel) = (&self.newton.step, &self.newton.vessel_step);
        self.body
            .contacts_mut()
            .for_each(|c| c.anticipate(step, of_vessel, share));
    }
    fn use_forces(&mut self, forces: Forces) {
        self.body.contacts_mut().for_each(|c| c.use_forces(forces));
    }
    fn leaves_out(&self) -> bool {
        self.body.contacts().any(Contact::leaves_out)
    }
    fn pulls(&self) -> bool {
        self.body.contacts().any(Contact::pulls)
    }
    fn take_present_limits(&mut self) -> bool {
        self.body.take_present_limits()
    }
    fn residual(&self) -> Result<f64, usize> {
        self.newton.residual(self.body, self.options.arm)
    }
    fn consistent_direction(&mut self) -> bool {
        self.newton.consistent_direction(self.body)
    }
    fn limit(&self) -> f64 {
        self.newton.limit(self.body, self.options.max_move)
    }
    fn take_step(&mut self, share: f64) -> f64 {
        self.newton.shorten(share);
        self.newton.try_step(self.body, 1.0);
        self.newton.commit(self.body);
        self.newton.step_size()
    }
}
