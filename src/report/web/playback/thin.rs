//! A recorded wire at few points: the same material points at every step, counted from the tip, so that
//! a page can go smoothly from one step to the next.

use nalgebra::Vector3;

use crate::trial::result::WireShape;

/// Spacing in mm of the points up to a distance in mm from the tip.
const SPACINGS_MM: [(f64, f64); 3] = [(6.0, 0.25), (20.0, 0.5), (f64::INFINITY, 1.0)];
/// Length of wire in mm on which a wall force is gathered.
const GATHERED_MM: f64 = 1.0;

/// A point of a wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WirePoint {
    /// Place in mm.
    pub place_mm: Vector3<f64>,
    /// Wall force on a millimetre around it, in mN.
    pub force_mn: f64,
    /// Outer diameter there in mm.
    pub diameter_mm: f64,
}

/// The points of a shape from its tip to the guide's end; the last one is that end.
#[must_use]
pub fn thinned(shape: &WireShape) -> Vec<WirePoint> {
    let count = shape.nodes_mm.len();
    let Some(last) = count.checked_sub(1) else {
        return Vec::new();
    };
    // From the tip back, as material points are counted.
    let node = |i: usize| shape.nodes_mm[last - i];
    let mut from_tip = vec![0.0];
    for i in 1..count {
        from_tip.push(from_tip[i - 1] + (node(i) - node(i - 1)).norm());
    }
    let length = from_tip[last];
    let of = |values: &[f64], i: usize| values.get(last - i).copied().unwrap_or(0.0);
    let mut sums = vec![0.0];
    for i in 0..count {
        sums.push(sums[i] + of(&shape.wall_force_mn, i));
    }
    let mut points = Vec::new();
    let mut at = 0.0;
    loop {
        let next = from_tip.partition_point(|&s| s < at).min(last);
        let before = next.saturating_sub(1);
        let gap = from_tip[next] - from_tip[before];
        let share = if gap > 0.0 {
            (at - from_tip[before]) / gap
        } else {
            0.0
        };
        let nearest = if share > 0.5 { next } else { before };
        let first = from_tip.partition_point(|&s| s < at - 0.5 * GATHERED_MM - 1e-9);
        let end = from_tip.partition_point(|&s| s <= at + 0.5 * GATHERED_MM + 1e-9);
        points.push(WirePoint {
            place_mm: node(before).lerp(&node(next), share.clamp(0.0, 1.0)),
            force_mn: (sums[end] - sums[first]).max(0.0),
            diameter_mm: of(&shape.diameter_mm, nearest),
        });
        if at >= length - 1e-9 {
            return points;
        }
        let mut spacings = SPACINGS_MM.iter();
        let spacing = spacings.find(|(to, _)| at < to - 1e-9).map_or(1.0, |s| s.1);
        at = (at + spacing).min(length);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn straight(length: usize) -> WireShape {
        let count = 10 * length + 1;
        WireShape {
            fed_mm: length as f64,
            nodes_mm: (0..count)
                .map(|i| Vector3::new(0.1 * i as f64, 0.0, 0.0))
                .collect(),
            wall_force_mn: vec![0.2; count],
            curvature_per_mm: vec![0.0; count],
            diameter_mm: (0..count).map(|i| if i < 50 { 1.0 } else { 0.4 }).collect(),
            beside: None,
        }
    }

    #[test]
    fn points_are_counted_from_the_tip_and_end_at_the_guide() {
        let points = thinned(&straight(30));
        let x: Vec<f64> = points.iter().map(|p| p.place_mm.x).collect();
        assert_eq!(points.len(), 24 + 28 + 10 + 1);
        assert!((x[0] - 30.0).abs() < 1e-12 && (x[1] - 29.75).abs() < 1e-9);
        assert!((x[24] - 24.0).abs() < 1e-9 && (x[25] - 23.5).abs() < 1e-9);
        assert!(x[points.len() - 1].abs() < 1e-9);
        // Eleven nodes lie on a millimetre, both ends counted, and half of it at the tip.
        assert!(
            (points[30].force_mn - 2.2).abs() < 1e-9 && (points[0].force_mn - 1.2).abs() < 1e-9
        );
        assert!(points[0].diameter_mm < 0.5 && points[points.len() - 1].diameter_mm > 0.9);
    }

    #[test]
    fn a_wire_without_length_is_a_point() {
        let mut shape = straight(1);
        shape.nodes_mm.truncate(1);
        assert_eq!(thinned(&shape).len(), 1);
        shape.nodes_mm.clear();
        assert!(thinned(&shape).is_empty());
    }
}
