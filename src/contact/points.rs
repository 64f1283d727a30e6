//! Where along the wire contact is looked for.

use super::friction::FrictionState;

/// One contact point: a material point of the wire.
#[derive(Debug, Clone, PartialEq)]
pub struct ContactPoint {
    /// Device whose surface it lies on: 0 the wire, 1 the catheter that covers it.
    pub layer: usize,
    /// Edge on which it lies.
    pub edge: usize,
    /// Place on the edge, from 0 at its first node to 1 at its second.
    pub fraction: f64,
    /// Length of wire it stands for, in mm.
    pub weight: f64,
    /// Memory of the friction there.
    pub friction: FrictionState,
}

/// Number of contact points on an edge of the given length for a largest spacing, both in mm.
fn count(length: f64, spacing: f64) -> u32 {
    let wanted = (length / spacing).ceil().clamp(1.0, 64.0);
    // In range by the clamp above.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 1..=64"
    )]
    let n = wanted as u32;
    n
}

/// The contact points of one edge: the midpoint rule with as many points as the spacing asks for.
pub(super) fn on_edge(
    edge: usize,
    length: f64,
    spacing: f64,
) -> impl Iterator<Item = ContactPoint> {
    let n = count(length, spacing);
    (0..n).map(move |k| ContactPoint {
        layer: 0,
        edge,
        fraction: (f64::from(k) + 0.5) / f64::from(n),
        weight: length / f64::from(n),
        friction: FrictionState::default(),
    })
}

/// The contact point of the tip, node 0 of the rod: its rounded end stands for one wire radius.
#[must_use]
pub fn tip_point(radius: f64) -> ContactPoint {
    ContactPoint {
        layer: 0,
        edge: 0,
        fraction: 0.0,
        weight: radius,
        friction: FrictionState::default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_cover_the_edge_at_no_more_than_the_spacing() {
        let points: Vec<_> = on_edge(3, 1.0, 0.3).collect();
        assert_eq!(points.len(), 4);
        let covered: f64 = points.iter().map(|p| p.weight).sum();
        approx::assert_relative_eq!(covered, 1.0, max_relative = 1e-15);
        assert!(
            points
                .windows(2)
                .all(|w| w[1].fraction - w[0].fraction <= 0.3)
        );
    }
}
