//! Support catheters in words.

use super::text::{Flow, fixed, pairs, significant};
use crate::scenario::model::CatheterSpec;
use crate::shown::degrees;

/// The section on support catheters.
pub(super) fn section(catheters: &[CatheterSpec]) -> Flow {
    let lines: Vec<(&str, String)> = catheters
        .iter()
        .map(|catheter| (catheter.name.as_str(), described(catheter)))
        .collect();
    pairs(&lines)
}

fn described(catheter: &CatheterSpec) -> String {
    let stiffness: Vec<String> = catheter
        .stiffness
        .iter()
        .map(|(c, b)| format!("{} N mm² at {} mm", significant(b / 1e3), significant(*c)))
        .collect();
    let tip = match catheter.tip {
        None => "straight tip".to_owned(),
        Some(tip) => match tip.range_rad {
            None => format!(
                "last {} mm bent by {} deg",
                significant(tip.length_mm),
                degrees(tip.angle_rad)
            ),
            Some((low, high)) => format!(
                "last {} mm steerable from {} to {} deg",
                significant(tip.length_mm),
                degrees(low),
                degrees(high)
            ),
        },
    };
    let port = catheter.side_port.map_or_else(String::new, |port| {
        format!(
            "; side port {} mm behind the tip, leaving at {} deg",
            significant(port.behind_tip_mm),
            degrees(port.angle_rad)
        )
    });
    let inside = if catheter.friction_inside > 0.0 {
        format!(", inside {}", significant(catheter.friction_inside))
    } else {
        ", none inside".to_owned()
    };
    format!(
        "{} mm outside ({} French), {} mm inside; {tip}{port}; bending stiffness {}; GJ/EI {}; friction {}{inside}",
        fixed(catheter.outer_diameter_mm, 3),
        fixed(3.0 * catheter.outer_diameter_mm, 2),
        fixed(catheter.inner_diameter_mm, 3),
        stiffness.join(", "),
        fixed(catheter.torsion_ratio, 3),
        significant(catheter.friction),
    )
}
