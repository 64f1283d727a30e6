//! A wire whose guide is carried along: the side port of a catheter that moves.

use nalgebra::{Matrix6, Vector3, Vector6};

use crate::solve::insertion::{Insertion, Unresolved};
use crate::solve::settings::Channel;
use crate::solve::telescope::{PortAnswer, PortPose};

impl Insertion<'_> {
    /// Moves the guide's end to `channel` while `feed` mm come out of it, with the hand's rotation
    /// such that the wire's first director at the guide is `director`; halved as often as allowed.
    ///
    /// # Errors
    /// [`Unresolved`]; the wire is left at the last equilibrium.
    pub(super) fn be_carried(
        &mut self,
        channel: Channel,
        feed: f64,
        director: Vector3<f64>,
        halvings: u32,
    ) -> Result<(), Unresolved> {
        let before = (self.body.clone(), self.intake.clone(), self.channel);
        let exit = self.intake.exit();
        self.body.move_guide(exit, &self.channel, &channel);
        let from = self.channel;
        self.channel = channel;
        self.carried = channel.exit - from.exit;
        self.support();
        let turn = self.turn_to(director);
        match self.advance(feed, turn, halvings) {
            Ok(()) => Ok(()),
            Err(unresolved) => {
                (self.body, self.intake, self.channel) = before;
                self.hand_rad -= turn;
                if halvings == 0 {
                    return Err(unresolved);
                }
                let half = Channel {
                    exit: from.exit.lerp(&channel.exit, 0.5),
                    axis: (from.axis + channel.axis).normalize(),
                    ..channel
                };
                let across = director - half.axis * director.dot(&half.axis);
                let between = (across + self.director()).normalize();
                self.be_carried(half, 0.5 * feed, between, halvings - 1)?;
                self.be_carried(channel, 0.5 * feed, director, halvings - 1)
            }
        }
    }

    /// The wire's first director at the guide.
    pub(super) fn director(&self) -> Vector3<f64> {
        self.body.rod.material_frame(self.intake.exit())[0]
    }

    /// Turn of the hand in rad, forward, that brings the director there.
    fn turn_to(&self, director: Vector3<f64>) -> f64 {
        let [first, second] = self.body.rod.material_frame(self.intake.exit());
        // The rod runs backwards: a turn forward is one back about its tangent.
        -director.dot(&second).atan2(director.dot(&first))
    }

    /// How the wire answers at the port.
    pub(super) fn answer(&mut self, pose: &PortPose) -> PortAnswer {
        let exit = self.intake.exit();
        let gradient = &self.newton.gradient;
        let force = |k: usize| -gradient[4 * (exit + k / 3) + k % 3];
        let force = Vector6::from_fn(|k, _| force(k));
        let found = self.newton.stiffness_of_support(&self.body, exit);
        let eigen = found.symmetric_eigen();
        let kept = Matrix6::from_diagonal(&eigen.eigenvalues.map(|value| value.max(0.0)));
        PortAnswer {
            at: [exit, exit + 1].map(|node| self.body.rod.node(node)),
            force,
            stiffness: eigen.eigenvectors * kept * eigen.eigenvectors.transpose(),
            // The wire turns freely in the catheter, and its torque goes on to its own hand; only
            // what the corner into the port takes out of it is the catheter's.
            corner: (pose.forward - self.channel.axis) * self.torque(),
        }
    }
}
