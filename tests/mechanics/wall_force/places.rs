//! The four places against straight tubes, whose geometry is a closed form.

use bendwise::report::export;
use bendwise::scenario::model::Scenario;
use bendwise::trial::{LEAVING_GUIDE_MM, Places, Prepared, WallPlace, run_trial, strategies};
use bendwise::vessel::Tree;
use nalgebra::Vector3;
use rayon::prelude::*;

use crate::common::report;
use crate::wall_force::side_branch;

const PARENT_RADIUS_MM: f64 = 2.0;
const SIDE_RADIUS_MM: f64 = 1.0;
const AT_MM: f64 = 30.0;
/// The end of the mouth is looked for in steps of 0.1 mm.
const LOOK_MM: f64 = 0.1;

/// On straight tubes that meet at an angle the axis of the side branch leaves the parent at
/// `R / sin`, and the tubes part where the axes are `R + r` apart: `r / sin` further.
#[test]
fn the_mouth_of_straight_tubes_reaches_as_far_as_they_run_into_each_other() {
    for degrees in [60_u32, 90, 120, 150, 160] {
        let scenario = side_branch(degrees);
        let tree = Tree::build(&scenario.vessel).unwrap();
        let places = Places::new((&tree, &tree), 1, 0.5);
        let angle = f64::from(degrees).to_radians();
        let reach = (SIDE_RADIUS_MM / angle.sin()).max(2.0 * SIDE_RADIUS_MM);
        let ostium = PARENT_RADIUS_MM / angle.sin();
        let guide = (0, 0.0);
        let at = |branch, station| places.of((branch, station), guide);
        // First stations at which the place is another one.
        let change = |branch, from: f64, way: f64| {
            let here = at(branch, from);
            let mut s = from;
            while at(branch, s) == here {
                s += 0.01 * way;
            }
            (s, at(branch, s))
        };
        let (end, then) = change(1, 0.0, 1.0);
        assert_eq!((at(1, 0.0), then), (WallPlace::AtMouth, WallPlace::Beyond));
        let foot = AT_MM + ostium * angle.cos();
        let (before, then) = change(0, foot, -1.0);
        assert_eq!(
            (at(0, foot), then),
            (WallPlace::AtMouth, WallPlace::OnTheWay)
        );
        let (behind, then) = change(0, foot, 1.0);
        assert_eq!(then, WallPlace::OnTheWay);
        let (left, then) = change(0, 0.0, 1.0);
        assert_eq!(
            (at(0, 0.0), then),
            (WallPlace::LeavingGuide, WallPlace::OnTheWay)
        );
        let off = [
            end - (ostium + reach),
            foot - before - reach,
            behind - foot - reach,
            left - LEAVING_GUIDE_MM,
        ];
        for off in off {
            let what = format!("end of a place, {degrees} degrees, mm");
            report(&what, off, LOOK_MM + 0.02);
        }
    }
}

#[test]
fn a_point_is_placed_by_where_it_lies_and_not_by_the_tip() {
    let tree = Tree::build(&side_branch(90).vessel).unwrap();
    let places = Places::new((&tree, &tree), 1, 0.5);
    let mut near = Vec::new();
    let mut of = |x: f64, y: f64| {
        let at = places.locate(&Vector3::new(x, y, 0.0), &mut near);
        places.of(at, (0, 0.0))
    };
    let side = if of(AT_MM, 10.0) == WallPlace::Beyond {
        1.0
    } else {
        -1.0
    };
    assert_eq!(of(5.0, 1.8), WallPlace::LeavingGuide);
    assert_eq!(of(9.9, -1.8), WallPlace::LeavingGuide);
    assert_eq!(of(10.1, -1.8), WallPlace::OnTheWay);
    assert_eq!(of(27.9, 1.8), WallPlace::OnTheWay);
    // The wall opposite to the ostium belongs to the mouth: the wire leans on it to turn in.
    assert_eq!(of(30.0, -1.8 * side), WallPlace::AtMouth);
    assert_eq!(of(31.0, 2.5 * side), WallPlace::AtMouth);
    assert_eq!(of(30.8, 3.9 * side), WallPlace::AtMouth);
    assert_eq!(of(30.8, 4.1 * side), WallPlace::Beyond);
    assert_eq!(of(33.0, 1.8 * side), WallPlace::OnTheWay);
    assert_eq!(of(50.0, 1.8), WallPlace::OnTheWay);
}

#[test]
fn the_peaks_by_place_are_those_of_the_map_summed_up_by_hand() {
    peaks_are_those_of_the_map(&side_branch(90), 4);
}

#[test]
fn the_same_holds_where_the_wall_is_a_surface() {
    let mut scenario = side_branch(90);
    scenario.wires.truncate(1);
    let tubes = Prepared::new(&scenario).unwrap();
    let mesh = export::wall(&tubes, 0.02).unwrap();
    scenario.vessel.surface = Some(std::sync::Arc::new(mesh));
    peaks_are_those_of_the_map(&scenario, 3);
}

/// Two records of the same contacts, cut by other rules: the map cuts each vessel into millimetres,
/// and here the ends of all places fall between two of them.
fn peaks_are_those_of_the_map(scenario: &Scenario, trials: u32) {
    let prepared = Prepared::new(scenario).unwrap();
    let place = |branch: usize, stretch: u32| match (branch, stretch) {
        (1, 0..4) | (0, 28..32) => 2,
        (1, _) => 3,
        (_, 0..10) => 0,
        _ => 1,
    };
    let all = strategies(scenario);
    let trials: Vec<_> = all
        .iter()
        .flat_map(|s| (0..trials).map(move |t| (s, t)))
        .collect();
    let seen: Vec<[bool; 4]> = trials
        .par_iter()
        .map(|(strategy, trial)| {
            let record = run_trial(&prepared, strategy, *trial, false);
            let mut largest = [0.0_f64; 4];
            for pressed in &record.pressed {
                let of_place = &mut largest[place(pressed.branch, pressed.stretch)];
                *of_place = of_place.max(pressed.force_mn);
            }
            let row = &record.row;
            let told = [
                row.peak_wall_force_leaving_guide_mn,
                row.peak_wall_force_on_the_way_mn,
                row.peak_wall_force_at_mouth_mn,
                row.peak_wall_force_beyond_mn,
            ];
            let what = format!("{}, trial {trial}", strategy.name);
            assert_eq!(told.map(f64::to_bits), largest.map(f64::to_bits), "{what}");
            let headline = largest[1].max(largest[2]).max(largest[3]);
            assert_eq!(
                row.peak_wall_force_mn.to_bits(),
                headline.to_bits(),
                "{what}"
            );
            largest.map(|force| force > 0.0)
        })
        .collect();
    for place in 0..4 {
        assert!(
            seen.iter().any(|seen| seen[place]),
            "place {place} never pressed"
        );
    }
}
