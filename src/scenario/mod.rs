//! The scenario file: schema, defaults and validation.
//!
//! [`load`] reads a TOML file into a checked [`Scenario`] in internal units. The first fault ends
//! the reading with a message that names file, line, field, value and what is allowed. People
//! write angles in degrees, tip loads in gram-force, stiffness in N mm² and moduli in GPa; every
//! key carries its unit.
//!
//! # Schema
//!
//! A field without default must be there, unless it is marked optional. Ranges in round brackets
//! leave out their ends.
//!
//! ## Top of the file
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `name` | short name | letters, digits, dashes | |
//! | `origin` | "invented", or the published source of the anatomy | text | that of the tree file |
//! | `description` | what the scenario teaches | text | |
//!
//! ## `[study]` (may be left out)
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `trials` | trials of each strategy (technique with wire) | 1 to 1e6 | 32 |
//! | `seed` | seed of the random numbers | 0 to 2^63 - 1 | 1 |
//! | `recorded` | trials of each strategy that leave a trace and shapes | 0 to 1000 | 2 |
//! | `record_every_mm` | movement between two recorded steps | (0 to 1e4 mm | 1 |
//!
//! ## `[vessel]`
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `carina_blend_mm` | width over which two tubes blend | 0 to 5 mm | 0.5 |
//! | `wall_stiffness_mN_per_mm2` | wall stiffness per mm of wire | (0 to 1e6 mN/mm² | 300 |
//! | `tree` | file with `[[branch]]` and `[[narrowing]]` tables, path from this file | path | none |
//! | `diameter_set` | which set where a branch's diameters are a table of sets | a name in it | none |
//! | `file` | file of anatomy: centrelines or a lumen surface, path from this file | path | none |
//!
//! ## `[vessel]` with `file`: real anatomy ([`crate::anatomy`])
//!
//! Centrelines with radius: `.vtp`, `.vtk`, `.swc`, `.csv` (columns x, y, z, radius or diameter,
//! branch, parent). Lumen surfaces: `.stl`, `.ply`, `.obj`, `.vtp`, `.vtk`; the wire then runs in the
//! surface itself. The tree is cut at its forks into branches called `branch-1`, `branch-1.1`, ...
//! in the order from the inlet, the longest first; `bendwise check` lists them with the numbers of
//! their tips and with everything that was changed. Further `[[vessel.branch]]` and
//! `[[vessel.narrowing]]` tables may name them.
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `units` | unit of the file | "mm", "cm", "m" | from the size, with a warning |
//! | `frame` | which way its axes point | "left-posterior-superior" ("LPS"), "right-anterior-superior" ("RAS"), "scene" (x to the patient's left, y to the head, z to the front) | what the file states as `SPACE=`; else left-posterior-superior with a warning, and with `[view]` it must be given |
//! | `radius_array` | name of the radius array or column | text | `MaximumInscribedSphereRadius`, `radius`; twice: `diameter` |
//! | `name_array` | name of the array of texts (at lines or points) or column that names the branches | text | `name`, `label` |
//! | `names_file` | table (`.csv`) with a column `name` and one of `branch`, `tip` or `x`, `y`, `z` (mm, scene's frame) | path | none |
//! | `inlet_mm` | point near which the tree begins, in mm in the scene's frame; no further from an end than two lumen diameters there or 3 mm | ±1e4 mm each | the root in the file, the place where all lines start (or end) side by side, or the widest end |
//! | `cut_inlet_mm` | length cut off every line that begins at the inlet | 0 to 1e4 mm | 0 |
//! | `cut_inlet_radius_mm` | cut up to where, behind its widest point, the radius first falls below this | (0 to 40 mm | none |
//! | `split_mm` | distance from which on two lines are two vessels | 0 to 50 mm | 0.2 |
//! | `join_mm` | largest distance from its parent at which a branch may begin | 0 to 50 mm | 2, or as far as the lumens run into each other |
//! | `stub_mm` | side branches shorter than this are dropped | 0 to 50 mm | 3 |
//! | `smooth_mm` | scale to which path and radius are smoothed | 0 to 10 mm | 1 |
//! | `tight_bends` | bends with a lumen radius of more than 0.7 of their own: smoothed more ("eased"), or left ("kept"); either way the lumen is the union of the balls along the lines if one of more than 0.75 is left | "eased", "kept" | "eased" |
//! | `divide_at_mm` | where a vessel without forks is divided, so that its second part can be the target | within the vessel | not |
//! | `resample_mm` | distance between the points of a branch | 0.05 to 20 mm | 0.5 |
//! | `ends` | holes of a surface: extended straight ("open") or closed flat | "open", "closed" | "open" |
//! | `[[vessel.name]]` | `name` for the branch said by `branch`, `tip` or `near_mm` | | none |
//!
//! ## `[[vessel.branch]]` (`[[branch]]` in a tree file); a parent stands before its branches
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `name` | unique name | 1 to 60 characters | |
//! | `parent` | branch on which it hangs | a branch before it | none: an inlet |
//! | `at_mm` | station on the parent | 0 to its length | nearest point (points only) |
//! | `take_off_deg` | turn that a wire must make; pieces with a parent only | 0 to 180 | |
//! | `plane_deg` | plane of the take-off about the parent's tangent | -360 to 360 | 0 |
//! | `start_mm` | start of an inlet built from pieces | ±1e4 mm each | [0, 0, 0] |
//! | `direction` | direction of an inlet built from pieces | length above 0 | [1, 0, 0] |
//! | `pieces` | list of pieces, see below | 1 or more | one of three |
//! | `points_mm` | list of [x, y, z] | 2 or more, ±1e4 mm | one of three |
//! | `points_cm_deg` | list of [r, theta, phi]: published polar form | r 0 to 30 cm | one of three |
//! | `origin_mm` | point from which polar points count | ±1e4 mm each | [0, 0, 0] |
//! | `diameter_mm` | one lumen diameter | (0 to 40 mm | one of three |
//! | `diameters_mm` | list of [station, diameter], rising | (0 to 40 mm | one of three |
//! | `point_diameters_mm` | one diameter for each point, or a table of such lists by set | (0 to 40 mm | one of three |
//!
//! Polar points follow Dodge 1988: x = r cos(phi) sin(theta), y = r sin(phi), z = r cos(phi)
//! cos(theta), with x to the patient's left, y to the head, z to the front. In
//! `point_diameters_mm` the word "absent" leaves out points at the end. Diameters at points are
//! kept at the sum of the chords before the point, which falls short of the length of the smooth
//! curve by one part in 24 of (chord over bend radius) squared: under 2 % for the trees here. Between
//! the stations of a list the diameter follows cubics that keep its shape (Fritsch and Carlson 1980):
//! it never leaves the range of its two neighbours; a change over less than the smallest lumen radius
//! is spread over that.
//!
//! A file may have up to 16 MB and 800000 signs and blanks that part its words, a list of tables 2500
//! entries, all branches together 60000 mm, and no place more than 100 branches near it.
//!
//! | piece | fields (lengths (0 to 1e4 mm, angles (0 to 1080 deg, `plane_deg` ±360, default 0) |
//! |---|---|
//! | `shape = "straight"` | `length_mm` |
//! | `shape = "arc"` | `radius_mm`, `angle_deg`, `plane_deg` |
//! | `shape = "s-bend"` | `radius_mm`, `angle_deg` (of each of its two arcs), `plane_deg` |
//! | `shape = "helix"` | `radius_mm`, `pitch_mm` (±1e3, positive right-handed), `turns` (0 to 100, `plane_deg` |
//!
//! ## `[[vessel.narrowing]]` (may be left out)
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `branch` | branch that is narrowed | a branch | |
//! | `at_mm` | station of its middle | 0 to the branch's length | |
//! | `length_mm` | whole length | 1 to 1e4 mm | |
//! | `diameter_mm` | smallest diameter | (0 to 40 mm | |
//!
//! With `file` the branch may be said by `tip` or `near_mm` too, as in `[guide]`.
//!
//! ## `[[vessel.obstacle]]` (may be left out): a body that wire and catheter cannot enter
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `branch` (with `file` also `tip`, `near_mm`) | branch in which it stands | a branch | |
//! | `at_mm` | station of its middle | 0 to the branch's length | |
//! | `length_mm` | whole length with its round ends; if shorter than it is wide it is a ball | (0 to 1e4 mm, within the branch | |
//! | `diameter_mm` | its diameter; as wide as the lumen it closes the branch | (0 to 40 mm | |
//! | `off_axis_mm` | how far its axis lies off the vessel's, such as for a nodule of the wall | 0 to 20 mm | 0 |
//! | `plane_deg` | to which side, about the vessel's axis | -360 to 360 | 0 |
//! | `stiffness_mN_per_mm2` | its stiffness per mm of wire; small for a soft body | (0 to 1e6 mN/mm² | 300 |
//!
//! ## `[guide]`
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `branch` | branch in which the guiding catheter ends | a branch | one of three |
//! | `tip` | with a file: the branch that ends in this tip | 1 to the number of tips | one of three |
//! | `near_mm` | with a file: the nearest point of the tree, also in place of `at_mm`; in mm in the scene's frame, no further from a centreline than two lumen diameters or 3 mm | ±1e4 mm each | one of three |
//! | `at_mm` | station of its end | 0 to the branch's length | 0 |
//! | `backup_stiffness_mN_per_mm` | stiffness against backing out | (0 to 1e6 | none: it holds |
//! | `back_out_limit_mm` | backward movement at which it is lost | (0 to 1e4 mm | 10 |
//! | `inner_diameter_mm` | diameter of its own lumen, for wire that lies back in it | 0.5 to 4 mm | 1.8 |
//!
//! ## `[target]`
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `branch` | branch to be reached | downstream of the guide | one of three |
//! | `tip`, `near_mm` | with a file: the branch, as in `[guide]` | | one of three |
//! | `beyond_ostium_mm` | how far beyond its whole mouth the tip must lie | (0 to 1e4 mm | 5 |
//! | `hold_mm` | how far it is then fed further | (0 to 1e4 mm | two diameters of the branch, and 5 mm beyond the mouth at the least |
//! | `hold_share` | share of that by which it must go deeper | (0 to 1 | 0.5 |
//! | `prolapse_lead_mm` | by how much another point of the wire must lead the tip, beyond what the tip's own bend does, for a prolapse | (0 to 1e4 mm | 1 |
//! | `astray_mm` | how far past the ostium, elsewhere, the tip is astray | (0 to 1e4 mm | 8 |
//! | `max_fed_mm` | most wire outside the guide | above the way to the target | |
//! | `wall_force_limit_mN` | most force on one millimetre of wall, at any place, leaving the guide included | (0 to 1e5 mN | none |
//!
//! ## `[[wire]]`, one or more
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `name` | unique name | 1 to 60 characters | |
//! | `diameter_mm` or `diameter_in` | outer diameter | 0.1 to 1 mm, 0.004 to 0.04 inch | |
//! | `tip_load_gf` | load at which the last 10 mm buckle | 0.05 to 50 gf | optional |
//! | `end_condition` | how it was measured | "fixed-pinned", "fixed-free" | "fixed-pinned" |
//! | `core_mm` | list of [distance from tip, core diameter], rising; with a tip load from 10 mm on | 0.01 mm to the wire's diameter | needed without tip load or stiffness list |
//! | `modulus_GPa` | Young's modulus of the core | 0.1 to 1000 GPa | 200; superelastic 48 |
//! | `stiffness_N_mm2` | list of [distance from tip, EI], rising; beside it a tip load is only compared | (0 to 1e4 N mm² | in place of core |
//! | `poisson_ratio` | gives GJ/EI = 1/(1 + nu) | 0 to 0.5 | 0.3 |
//! | `torsion_ratio` | GJ/EI itself | (0 to 10 | from `poisson_ratio` |
//! | `surface` | a name of [`surface::SURFACES`] | "hydrophilic", "PTFE", "steel" | or `friction` |
//! | `friction` | Coulomb coefficient | 0 to 2 | or `surface` |
//! | `core_law` | what the core does beyond its strain limit: "plastic" keeps a set, "superelastic" flows along a plateau and comes back, "elastic" never yields | one of three | "plastic" |
//! | `strain_limit` | bending strain at which the core yields, or its plateau begins | (0 to 0.2 | 0.01; superelastic 0.009 |
//! | `plateau_strain` | length of a superelastic core's plateau, in strain | (0 to 0.2 | 0.05 |
//! | `lower_over_upper` | stress of its lower plateau over that of the upper | 0 to 1 | 1/3 |
//! | `bend` | `{ length_mm, angle_deg, plane_deg = 0 }`: the arc that ends at the tip | 0 to 360 deg | none |
//! | `secondary_bend` | `{ from_tip_mm, length_mm, angle_deg, plane_deg = 0 }` | behind `bend` | none |
//!
//! Between the stations of `core_mm` the core's diameter runs linearly; between those of
//! `stiffness_N_mm2` the logarithm of the stiffness does, so that it changes by the same factor
//! over equal lengths. Outside its first and last station a list keeps its first and last value.
//! Where a wire has both `stiffness_N_mm2` and `tip_load_gf`, `check` and `assay` warn if the list
//! gives a tip load more than a quarter away from the one stated.
//!
//! ## `[[catheter]]`: a support catheter (may be left out)
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `name` | unique name | 1 to 60 characters | |
//! | `outer_diameter_mm` or `outer_diameter_fr` | outer diameter | (0 to 4 mm, (0 to 12 French | |
//! | `inner_diameter_mm` or `inner_diameter_fr` | diameter of its lumen, above that of every wire | below the outer | |
//! | `stiffness_N_mm2` | list of [distance from tip, EI], rising | (0 to 1e4 N mm² | |
//! | `poisson_ratio` or `torsion_ratio` | as for a wire | | 0.3 |
//! | `surface` or `friction` | as for a wire | | |
//! | `tip` | bent tip: `{ length_mm, angle_deg }`, or steerable in use: `{ length_mm, steerable_deg = [least, largest], angle_deg = 0 }` | ±180 deg | straight |
//! | `length_mm` | whole length | (0 to 1e4 mm | 1350 |
//! | `side_port` | port of a second lumen: `{ behind_tip_mm, angle_deg = 30, plane_deg = 0 }`; the angle is that between the catheter and a wire that leaves | on the catheter; 0 to 90 deg | none |
//!
//! ## `[[technique]]`, one or more
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `kind` | what the hands do | "push", "redirect", "looped-back", "support", "angled-support", "dual-lumen", "loop-in-vessel" | |
//! | `name` | unique name | 1 to 60 characters | its kind |
//! | `attempts` | all but push: attempts in all | 1 to 100 | 5 |
//! | `withdraw_to_mm` | redirect, support: how far before the ostium | (0 to 1e4 mm | 3 |
//! | `turn_deg` | redirect, looped-back, support: turn between attempts; angled-support, dual-lumen, loop-in-vessel: how far beyond the aim each further attempt turns the catheter | ±360 deg | drawn from the circle; 30 |
//! | `rock_deg` | redirect: turn to and fro while feeding, to either side | 0 to 180 deg | 0 |
//! | `fold_mm` | looped-back: middle of the fold behind the tip | (0 to 1e4 mm | 30 |
//! | `fold_length_mm` | looped-back: length of wire in the fold; long is round, short is sharp | below `fold_mm` | 6 |
//! | `fold_set_deg` | looped-back: angle that the fold keeps when it is free | (0 to 180 deg | 150 |
//! | `fold_plane_deg` | looped-back: its direction about the wire, as that of a bend | ±360 deg | 0 |
//! | `past_mm` | looped-back, loop-in-vessel: how far past the branching the tip is fed | (0 to 1e4 mm | 3 |
//! | `catheter` | support, angled-support: the catheter; dual-lumen, loop-in-vessel, and looped-back if wanted: one with a side port, out of which the wire comes | its name | |
//! | `first_wire` | with a side port: the wire over which the catheter rides | its name | |
//! | `first_wire_past_mm` | how far past the branching that wire lies | (0 to 1e4 mm | 25 |
//! | `anchor` | loop-in-vessel: the branch that holds the tip while the loop forms | a branch | |
//! | `hold_mm` | loop-in-vessel: how deep the tip is fed into it | (0 to 1e4 mm | 15 |
//! | `slack_mm` | loop-in-vessel: wire paid out while the loop forms | 0 to 1e4 mm | 5 |
//! | `behind_tip_mm` | support: wire in front of the catheter when that has followed | (0 to 1e4 mm | 10 |
//! | `stride_mm` | support: how much further the wire goes before the catheter follows | (0 to 1e4 mm | 5 |
//! | `before_ostium_mm` | support: where the catheter stays; angled-support: where its tip is brought; dual-lumen, loop-in-vessel: where its side port is brought (before the anchor) | -20 to 100 mm | 2 |
//! | `lead_mm` | angled-support: wire in front of the catheter on the way | (0 to 1e4 mm | 5 |
//! | `angle_deg` | angled-support: angle to which a steerable tip is bent there | its range | its largest |
//! | `follow_mm` | support, angled-support: how far beyond the ostium the catheter is to follow the wire | (0 to 1e4 mm | it does not |
//! | `balloon` | `{ diameter_mm, length_mm, beyond_mm = 1, stiffness_mN_per_mm2 = 100 }`: blocks the vessel that goes straight on, from so far beyond the branching; with `shaft_diameter_mm` its shaft shares the lumen, where `shaft_wire` (the first wire of the file unless named) comes to lie | diameter 0.5 to 10 mm | none |
//! | `exchange` | all but push: `{ after = 2, wire }`: after so many attempts goes on with another wire, from the guide's end or through the catheter that holds the place | a wire of the scenario | none |
//! | `guide_aims` | redirect: list of `{ tilt_deg = 0, plane_deg = 0, deeper_mm = 0 }`: how the guide is pointed before each further attempt, in turn | tilt 0 to 60 deg, 0 to 50 mm deeper | none |
//! | `sight` | what it may see: all, or one projection on the roadmap that is believed | "full", or a view such as "LAO 40 CRA 30" | "full" |
//!
//! With a projected `sight` depth is unknown: redirect aims the bend at the side on which the
//! branch is seen to leave, astray and stopped are judged in the image, and `turn_deg` (default
//! 30) says how far beyond the aim each further attempt turns, alternately to either side. It
//! needs `[view]`.
//!
//! ## `[view]` (may be left out; `bendwise view` and a projected `sight` need it)
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `patient_frame` | where x, y and z point in the patient | three of left, right, head, feet, front, back, right-handed | |
//! | `current` | the view in which the operator works now | such as "LAO 40 CRA 30", "RAO 30", "AP CAU 20" | "AP" |
//! | `branches` | whose branchings are to be opened | branches with a parent | the target |
//! | `near_mm` | length of parent, main and branch that counts | (0 to 1e4 mm | 10 |
//! | `source_object_mm` | X-ray source to isocentre | 10 to 5000 mm, above `patient_radius_mm` | 750 |
//! | `source_detector_mm` | X-ray source to detector | 10 to 5000 mm, above `source_object_mm` | 1050 |
//! | `patient_radius_mm` | radius of the patient about the isocentre | 10 to 5000 mm | 200 |
//! | `primary_deg` | [least, largest] primary angle in reach, RAO negative | ±180 | [-60, 90] |
//! | `secondary_deg` | [least, largest] secondary angle in reach, caudal negative | ±90 | [-45, 45] |
//! | `combined_deg` | largest sum of the two, signs left away | 0 to 270 | 120 |
//! | `reading_sd_mm` | standard deviation of a reading in a projection, at the isocentre | 0 to 5 mm | 0.3 |
//! | `believed` | list of `{ branch, turned_deg = 0, further_mm = 0 }`: believed to leave turned about the parent's forward direction and further along it | ±360 deg, ±100 mm | none |
//!
//! Distances and reach are common practice, no source.
//!
//! ## `[variation]` (may be left out)
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `roll_half_width_deg` | half-width of the draw of the roll at the start | 0 to 180 | 180 |
//! | `roll_middle_deg` | its middle | -360 to 360 | 0 |
//! | `friction_cv` | coefficient of variation of friction | 0 to 1 | 0 |
//! | `turn_sd_deg` | standard deviation of the hand's turns | 0 to 90 | 0 |
//! | `diameter_cv` | coefficient of variation of all lumen diameters together | 0 to 1 | 0 |
//! | `bend_cv` | coefficient of variation of the tip's bend | 0 to 1 | 0 |
//!
//! ## `[assay]`: bench tests of the wires (may be left out, and so may each of its fields)
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `edge_mm` | longest edge of a rod in a chuck | 0.02 to 5 mm | 0.1 |
//! | `tip_load` | `{ held_mm, plate_friction, travel_mm, shaped_travel_mm }` | 1 to 200 mm; 0 to 2; (0 to 50 mm | 10, the wire's own, 0.3, 2 |
//! | `flexibility` | `{ held_mm, angles_deg }`, two lists | 1 to 200 mm; 1 to 100 deg | [5, 10, 20], [45, 90] |
//! | `three_point` | `{ span_mm, stations_mm, deflection_mm }` | (0 to 1e4 mm | 20; those of [`STATIONS_MM`](bench::STATIONS_MM) that fit; span/100 |
//! | `torque` | `{ turn_deg, step_deg }` | (0 to 1e4 deg | 1080, 10 |
//! | `paths` | `{ lumen_mm, siphon_radius_mm, bend_radius_mm, loop_radius_mm, wall_stiffness_mN_per_mm2, step_mm, edge_mm }`: tubes of torque response and track | | 3, 7, 10, 10, 300, 0.5, 0.5 |
//! | `pinch` | `{ clamp_gf, jaw_mm }` | (0 to 1e5 gf; (0 to 1e4 mm | 500, 10 |
//! | `kink` | `{ stations_mm }` | | those of [`STATIONS_MM`](bench::STATIONS_MM) that fit |
//! | `straightening` | `{ radius_mm, angle_deg, lumen_mm, tissue_stiffness_mN_per_mm2, fed_mm }` | | 15, 90, 3, 20, 150 |
//! | `fit` | list of `{ name, wire, curve, test, span_mm, relative_error, curves, knots_mm, tip_load_gf, end_condition, tip_load_error }` | | none |
//!
//! A fit names the measured `wire`, the file `curve` (path from this file), the `test` ("three-point"
//! or "flexibility") and the `knots_mm` at which the stiffness is sought. A three-point curve has the
//! columns `station_mm`, `deflection_mm` and `load_mN` (or `load_N`, `load_gf`), a flexibility curve
//! `held_mm`, `angle_deg` and `force_mN` (or `_N`, `_gf`). `relative_error` is the standard deviation
//! of a reading over its value, if it is known.
//!
//! Several curves of one wire are fitted in one go: `curves = [{ curve, test, span_mm,
//! relative_error }, ...]` in place of the single `curve`. `tip_load_gf` adds a tip load measured
//! with the wire held at `held_mm` of `[assay.tip_load]`; `end_condition` says how, where the wire's
//! own does not hold, and `tip_load_error` its standard deviation over its value. Each set of
//! readings counts by its stated error; one that is not stated is read from the scatter of the set
//! by itself, or, where it has fewer than three readings to spare, taken as 5 %.
//!
//! A reading of three-point bending reaches the wire between its supports, one of flexibility or tip
//! load from the tip to the chuck. Elsewhere the fitted wire keeps the stiffness of `wire`, with a
//! step where the two meet; a gap of up to half the span or held length beside it is interpolated.
//! Within the reach the logarithm of the stiffness is linear between knots and constant outside the
//! first and the last. A knot that no reading reaches is refused.
//!
//! A file for the bench may hold nothing but `[[wire]]` and `[assay]`.
//!
//! ## `[solver]` (may be left out)
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `step_mm` | fed length in one step | 0.001 to 2 mm | 0.2 |
//! | `edge_mm` | edge length at the tip | 0.02 to 5 mm | 0.25 |
//! | `tolerance` | residual as a fraction of the force scale | 1e-12 to 0.1 | 1e-5 |
//! | `feed_speed_mm_per_s` | feed speed | 0.1 to 1000 mm/s | 10 |
mod allowed;
pub mod bench;
mod checks;
mod error;
mod excerpt;
mod load;
mod measure;
pub mod model;
mod near;
mod read;
mod source;
pub mod surface;
pub mod sweep;
mod tables;
pub mod view;

pub use error::{Fault, Located, ScenarioError};
pub use load::{
    Kind, Loaded, LoadedBench, Warning, holds_wires_alone, kind, load, load_bench, load_text,
};
pub use model::Scenario;
pub use near::nearest;
pub use source::{Source, SourceFile, point_at};
