//! Patches against a millimetre that is moved along the wire in small steps.

use bendwise::contact::Contact;
use bendwise::solve::StepSettings;
use bendwise::vessel::Tree;

use crate::common::{into_s_bend, report, s_bend};

/// By how much the millimetre is moved on, in mm.
const EVERY_MM: f64 = 1e-3;

/// Slow twin: the force of every contact is spread over the wire for which it stands, and what lies
/// within a millimetre is added up wherever that may begin. The largest sum lies where the millimetre
/// begins or ends with a contact, so that the twin comes within the force of its step of it.
#[test]
fn the_largest_force_is_that_of_the_millimetre_of_wire_that_presses_most() {
    let tree = Tree::build(&s_bend()).unwrap();
    let mut wire = into_s_bend(&tree, 0.1, StepSettings::default());
    let (mut off, mut several): (f64, usize) = (0.0, 0);
    for _ in 0..60 {
        wire.feed(0.5).unwrap();
        let body = wire.wire_body().unwrap();
        let (contact, rod) = (body.contact.as_ref().unwrap(), &body.rod);
        let stretches: Vec<[f64; 3]> = contact
            .active_contacts()
            .iter()
            .map(|active| {
                let point = &contact.points[active.point];
                let along = point.fraction * rod.edges[point.edge].rest_length;
                let at = wire.stations()[point.edge] + along;
                // The point of the tip's end stands for no length of the wire's side.
                let half = if active.point == 0 {
                    0.0
                } else {
                    0.5 * point.weight
                };
                [at - half, at + half, active.normal_force]
            })
            .collect();
        let Some(last) = stretches.last() else {
            continue;
        };
        let within = |from: f64| {
            let to = from + Contact::<4>::PATCH_MM;
            let share = |[a, b, force]: &[f64; 3]| {
                if b > a {
                    force * ((b.min(to) - a.max(from)) / (b - a)).max(0.0)
                } else if (from..=to).contains(a) {
                    *force
                } else {
                    0.0
                }
            };
            stretches.iter().map(share).sum::<f64>()
        };
        let mut from = -Contact::<4>::PATCH_MM;
        let mut most: f64 = 0.0;
        while from <= last[1] {
            most = most.max(within(from));
            from += EVERY_MM;
        }
        let patches = wire.patches();
        let largest = patches.iter().map(|p| p.force).fold(0.0, f64::max);
        assert_eq!(largest.to_bits(), wire.contact().largest_force.to_bits());
        assert!(largest >= most * (1.0 - 1e-12), "{largest} {most}");
        let densest = stretches.iter().map(|[a, b, f]| f / (b - a).max(EVERY_MM));
        let of_a_step = EVERY_MM * densest.fold(0.0, f64::max);
        off = off.max((largest - most - of_a_step) / largest);
        several += usize::from(stretches.len() > 1);
    }
    assert!(several > 30, "{several} states with more than one contact");
    report(
        "largest force in a millimetre, beyond the twin's step",
        off.max(0.0),
        1e-9,
    );
}
