//! What can be read off catheter and second wire: the second wire is the wire, its port is the
//! catheter's tip.

use nalgebra::Vector3;

use super::PortedPair;
use crate::solve::core_flow::CoreSet;
use crate::solve::guided::Readings;
use crate::solve::shape::WireShape;

impl PortedPair<'_> {
    /// Length of the second wire outside the port in mm; negative where its tip is inside.
    pub(in crate::solve) fn bare_mm(&self) -> f64 {
        self.bare_mm
    }

    /// Length of catheter outside the guide up to the port, in mm.
    pub(in crate::solve) fn port_outside_mm(&self) -> f64 {
        self.carrier.catheter_outside_mm() - self.second.port.behind_tip_mm
    }

    /// Length of catheter and second wire from the guide's end to the wire's tip, in mm.
    pub(in crate::solve) fn outside_mm(&self) -> f64 {
        self.port_outside_mm() + self.bare_mm
    }

    /// Sum of the normal forces in mN between the second wire and the devices beside it.
    pub(in crate::solve) fn force_beside(&self) -> f64 {
        let pairs = self.adjacent.pairs().iter();
        pairs.map(|pair| pair.active.normal_force).sum()
    }

    /// Largest friction force between them over the Coulomb limit at the last equilibrium.
    pub(in crate::solve) fn ratio_beside(&self) -> f64 {
        self.adjacent.settled_ratio()
    }

    /// The port's opening in mm and the direction in which a wire leaves it.
    pub(in crate::solve) fn port(&self) -> (Vector3<f64>, Vector3<f64>) {
        let guide_tip = self.guide_tip(&self.pose());
        (guide_tip.exit, guide_tip.axis)
    }

    /// Position of the second wire's tip in mm; inside the catheter, of the port.
    pub(in crate::solve) fn tip(&self) -> Vector3<f64> {
        let out = self.out.as_ref();
        out.map_or_else(|| self.port().0, |wire| wire.behind_front(0.0))
    }

    /// Position in mm of the point at a distance behind that tip in mm, along wire and catheter.
    pub(in crate::solve) fn behind_tip(&self, distance_mm: f64) -> Vector3<f64> {
        match &self.out {
            Some(wire) if distance_mm < self.bare_mm => wire.behind_front(distance_mm),
            _ => {
                let behind_port = distance_mm - self.bare_mm.max(0.0);
                let port = self.second.port.behind_tip_mm;
                self.carrier.behind_catheter_tip(port + behind_port)
            }
        }
    }

    /// Nodes from the guide's end through the port to the second wire's tip, in mm.
    pub(in crate::solve) fn shape(&self) -> Vec<Vector3<f64>> {
        let mut nodes = self.carrier.shape();
        nodes.truncate(self.carrier.nodes_to(self.second.port.behind_tip_mm));
        match &self.out {
            Some(wire) => nodes.extend(wire.shape()),
            None => nodes.push(self.port().0),
        }
        nodes
    }

    /// The same with what acts along it; the catheter ahead of the port and its first wire lie beside.
    pub(in crate::solve) fn wire_shape(&self) -> WireShape {
        let mut behind = self.carrier.wire_shape();
        let held = self.carrier.nodes_to(self.second.port.behind_tip_mm);
        // From the last node that is held, so that no gap is left.
        let ahead = behind.ahead_of(held.saturating_sub(1));
        behind.fed_mm = self.outside_mm();
        behind.truncate(held);
        match &self.out {
            Some(wire) => behind.append(wire.wire_shape()),
            None => behind.append(WireShape {
                fed_mm: 0.0,
                nodes_mm: vec![self.port().0],
                wall_force_mn: vec![0.0],
                curvature_per_mm: vec![0.0],
                diameter_mm: vec![2.0 * self.second.wire.radius_mm()],
                beside: None,
            }),
        }
        behind.beside = Some(Box::new(ahead));
        behind
    }

    /// The set that the second wire keeps without load.
    pub(in crate::solve) fn set(&self) -> CoreSet {
        let out = self.out.as_ref();
        out.map_or_else(|| self.kept.set(&self.second.wire), Readings::set)
    }

    /// Angle of the second wire's hand since the start in rad.
    pub(in crate::solve) fn hand_rad(&self) -> f64 {
        self.hand_rad
    }

    /// Angle of its tip about its axis in rad.
    pub(in crate::solve) fn tip_rad(&self) -> f64 {
        let out = self.out.as_ref();
        self.hand_rad + out.map_or(0.0, |wire| wire.tips_rad()[0] - wire.hands_rad()[0])
    }
}
