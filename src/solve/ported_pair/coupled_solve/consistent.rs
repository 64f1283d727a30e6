//! The linearised equilibrium of catheter and second wire with consistent forces of friction.

use super::{CoupledSolve, Memory};
use crate::contact::{Contact, Forces};
use crate::rod::Kinematics;
use crate::solve::consistent::Consistent;

impl Consistent for CoupledSolve<'_, '_> {
    type Unknowns = [(Vec<f64>, Kinematics); 2];

    fn unknowns(&self) -> Self::Unknowns {
        let (catheter, wire) = (&self.carrier.body.rod, &self.wire.body.rod);
        [
            (catheter.q.clone(), catheter.kinematics().clone()),
            (wire.q.clone(), wire.kinematics().clone()),
        ]
    }

    fn put_back(&mut self, [catheter, wire]: &Self::Unknowns) {
        let rod = &mut self.carrier.body.rod;
        rod.commit(&catheter.0, &mut catheter.1.clone());
        let rod = &mut self.wire.body.rod;
        rod.commit(&wire.0, &mut wire.1.clone());
    }

    fn has_contacts(&self) -> bool {
        true
    }

    fn hardness(&self) -> f64 {
        self.carrier.body.hardness().max(self.wire.body.hardness())
    }

    fn soften(&mut self, share: f64) {
        let carrier = self.carrier.body.contacts_mut();
        carrier.for_each(|c| c.softened = share);
        let wire = self.wire.body.contacts_mut();
        wire.for_each(|c| c.softened = share);
    }

    fn couple_friction(&mut self, coupled: bool) {
        let carrier = self.carrier.body.contacts_mut();
        carrier.for_each(|c| c.couple_friction(coupled));
        let wire = self.wire.body.contacts_mut();
        wire.for_each(|c| c.couple_friction(coupled));
    }

    fn anticipate_held(&mut self) {
        self.carrier.body.anticipate_held();
        self.wire.body.anticipate_held();
    }

    fn anticipate(&mut self, share: f64) {
        let (carrier, wire) = (&mut *self.carrier, &mut *self.wire);
        let step = &carrier.newton.step;
        let contacts = carrier.body.contacts_mut();
        contacts.for_each(|c| c.anticipate(step, &[], share));
        let step = &wire.newton.step;
        let contacts = wire.body.contacts_mut();
        contacts.for_each(|c| c.anticipate(step, &[], share));
    }

    fn use_forces(&mut self, forces: Forces) {
        self.carrier
            .body
            .contacts_mut()
            .for_each(|c| c.use_forces(forces));
        self.wire
            .body
            .contacts_mut()
            .for_each(|c| c.use_forces(forces));
    }

    fn leaves_out(&self) -> bool {
        let (carrier, wire) = (&self.carrier.body, &self.wire.body);
        carrier.contacts().any(Contact::leaves_out) || wire.contacts().any(Contact::leaves_out)
    }

    fn pulls(&self) -> bool {
        let (carrier, wire) = (&self.carrier.body, &self.wire.body);
        carrier.contacts().any(Contact::pulls) || wire.contacts().any(Contact::pulls)
    }

    fn take_present_limits(&mut self) -> bool {
        let of_carrier = self.carrier.body.take_present_limits();
        self.wire.body.take_present_limits() && of_carrier
    }

    fn residual(&self) -> Result<f64, usize> {
        let (carrier, wire) = (&self.carrier, &self.wire);
        let of_catheter = carrier.newton.residual(&carrier.body, self.options.arm)?;
        let of_wire = wire.newton.residual(&wire.body, wire.options.arm)?;
        let scale = self.options.tolerance / wire.options.tolerance;
        Ok(of_catheter.max(of_wire * scale))
    }

    fn consistent_direction(&mut self) -> bool {
        let forces = self.gradient_of_ends();
        let bent = self.seat.stiffness(&self.carrier.body.rod, &forces);
        let ends = self.ends();
        let Memory {
            sliding,
            step,
            port,
            ..
        } = &mut *self.memory;
        let (carrier, wire) = (&mut *self.carrier, &mut *self.wire);
        step.clear();
        let gradients = carrier.newton.gradient.iter();
        step.extend(gradients.chain(&wire.newton.gradient).map(|g| -g));
        let pairs = (self.adjacent.pairs(), wire.body.pairs());
        let solved = sliding.solve(
            (&carrier.body, &mut carrier.newton),
            (&wire.body, &mut wire.newton),
            (&self.seat, &port.moved, &bent, &ends),
            pairs,
            step,
        );
        self.hand_out();
        solved
    }

    fn limit(&self) -> f64 {
        let most = self.options.max_move;
        let of_catheter = self.carrier.newton.limit(&self.carrier.body, most);
        of_catheter.min(self.wire.newton.limit(&self.wire.body, most))
    }

    fn take_step(&mut self, share: f64) -> f64 {
        self.carrier.newton.shorten(share);
        self.wire.newton.shorten(share);
        self.go(1.0);
        self.commit();
        let of_wire = self.wire.newton.step_size();
        self.carrier.newton.step_size().max(of_wire)
    }
}
