//! A vessel in a few lines, and a wire put into it.

use nalgebra::Vector3;

use crate::contact::{WallSpec, WalledLumen};
use crate::device::Wire;
use crate::scenario::model::{AttachmentSpec, BranchSpec, PathSpec, PieceSpec, Place, VesselSpec};
use crate::solve::{Assembly, GuideTip, Start, StepSettings, Unresolved};
use crate::vessel::{Tree, VesselError};

/// Wire that stands out of the guide at the beginning, in mm.
const OUTSIDE_MM: f64 = 3.0;
/// Length in mm that may be fed beyond the longest way through the vessel.
const SPARE_MM: f64 = 20.0;

/// Describes a vessel branch by branch and piece by piece.
///
/// The first branch, called "inlet", begins at the origin and runs along +x. Pieces are put behind
/// one another; each starts where the last one ended, in the same direction.
///
/// # Examples
///
/// A tube with one bend and a side branch at a right angle:
///
/// ```
/// use bendwise::prelude::*;
///
/// let vessel = VesselBuilder::tube_mm(3.0)
///     .straight_mm(20.0)
///     .arc_mm_deg(15.0, 60.0)
///     .straight_mm(20.0)
///     .branch_deg("side", "inlet", 10.0, 90.0, 2.0)
///     .straight_mm(15.0)
///     .build()?;
/// assert_eq!(vessel.tree().branches().len(), 2);
/// # Ok::<(), VesselError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct VesselBuilder {
    spec: VesselSpec,
    plane_rad: f64,
}

impl VesselBuilder {
    /// A vessel whose inlet has that lumen diameter in mm, above 0. Pieces have to follow.
    #[must_use]
    pub fn tube_mm(diameter_mm: f64) -> Self {
        Self {
            spec: VesselSpec::new(vec![branch("inlet", None, 0.0, diameter_mm)]),
            plane_rad: 0.0,
        }
    }

    /// A straight piece of that length in mm, above 0.
    #[must_use]
    pub fn straight_mm(self, length_mm: f64) -> Self {
        self.piece(PieceSpec::Straight { length_mm })
    }

    /// An arc: radius of the centreline in mm and turn in degrees, both above 0, in the plane of
    /// [`VesselBuilder::plane_deg`].
    #[must_use]
    pub fn arc_mm_deg(self, radius_mm: f64, angle_deg: f64) -> Self {
        let plane_rad = self.plane_rad;
        self.piece(PieceSpec::Arc {
            radius_mm,
            angle_rad: angle_deg.to_radians(),
            plane_rad,
        })
    }

    /// Plane of the arcs and branches that follow, in degrees about the vessel's direction (see
    /// [`crate::vessel`]); 0 at the beginning, in which the inlet's arcs turn towards +y.
    #[must_use]
    pub fn plane_deg(mut self, plane_deg: f64) -> Self {
        self.plane_rad = plane_deg.to_radians();
        self
    }

    /// Any piece.
    #[must_use]
    pub fn piece(mut self, piece: PieceSpec) -> Self {
        let last = self.spec.branches.last_mut();
        if let Some(PathSpec::Pieces { pieces, .. }) = last.map(|branch| &mut branch.path) {
            pieces.push(piece);
        }
        self
    }

    /// Begins a branch that leaves `parent` at a station in mm from the parent's start; pieces that
    /// follow belong to it. `take_off_deg` is the turn that a wire must make, 0 straight on, 90 square,
    /// above that backwards, up to 180.
    #[must_use]
    pub fn branch_deg(
        mut self,
        name: &str,
        parent: &str,
        at_mm: f64,
        take_off_deg: f64,
        diameter_mm: f64,
    ) -> Self {
        let attached = AttachmentSpec {
            parent: parent.to_owned(),
            station_mm: Some(at_mm),
            place: Place::default(),
        };
        let mut branch = branch(name, Some(attached), take_off_deg, diameter_mm);
        if let PathSpec::Pieces {
            take_off_plane_rad, ..
        } = &mut branch.path
        {
            *take_off_plane_rad = self.plane_rad;
        }
        self.spec.branches.push(branch);
        self
    }

    /// Stiffness of the wall's elastic foundation in mN/mm² (mN per mm of wire and mm of depth),
    /// above 0; [`WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2`] where none is given.
    #[must_use]
    pub fn wall_stiffness_mn_per_mm2(mut self, stiffness: f64) -> Self {
        self.spec.wall = stiffness.into();
        self
    }

    /// Another law of the wall.
    #[must_use]
    pub fn wall(mut self, wall: WallSpec) -> Self {
        self.spec.wall = wall;
        self
    }

    /// The description so far.
    #[must_use]
    pub fn spec(&self) -> &VesselSpec {
        &self.spec
    }

    /// Builds the vessel.
    ///
    /// # Errors
    /// [`VesselError`] as [`Tree::build`].
    pub fn build(&self) -> Result<Vessel, VesselError> {
        Ok(Vessel {
            tree: Tree::build(&self.spec)?,
            wall: self.spec.wall,
        })
    }
}

fn branch(
    name: &str,
    attached: Option<AttachmentSpec>,
    take_off_deg: f64,
    diameter_mm: f64,
) -> BranchSpec {
    BranchSpec {
        name: name.to_owned(),
        attached,
        path: PathSpec::Pieces {
            start_mm: Vector3::zeros(),
            direction: Vector3::x(),
            take_off_rad: take_off_deg.to_radians(),
            take_off_plane_rad: 0.0,
            pieces: Vec::new(),
        },
        diameters: vec![(0.0, diameter_mm)],
        place: Place::default(),
    }
}

/// A vessel with its wall, into which wires can be put.
#[derive(Debug, Clone)]
pub struct Vessel {
    tree: Tree,
    wall: WallSpec,
}

impl Vessel {
    /// Branches and lumen.
    #[must_use]
    pub fn tree(&self) -> &Tree {
        &self.tree
    }

    /// How the wall gives way.
    #[must_use]
    pub fn wall(&self) -> WallSpec {
        self.wall
    }

    /// A wire whose first 3 mm stand out of a guide at the start of the inlet, in equilibrium. It may
    /// be fed as far as the longest way through the vessel and 20 mm more.
    ///
    /// # Examples
    ///
    /// How near the contacts come to Coulomb's limit while a wire is fed round a bend: 1 where one of
    /// them slides.
    ///
    /// ```
    /// use bendwise::prelude::*;
    ///
    /// let bend = VesselBuilder::tube_mm(3.0).straight_mm(5.0).arc_mm_deg(10.0, 90.0).straight_mm(20.0);
    /// let vessel = bend.build()?;
    /// for friction in [0.0, 0.1, 0.3] {
    ///     let wire = WireBuilder::from_stiffness_mn_mm2(&[(0.0, 50.0)]).friction(friction).build()?;
    ///     let mut pushed = vessel.insert(&wire)?;
    ///     pushed.feed(20.0)?;
    ///     let (ratio, push) = (pushed.friction_ratio(), pushed.push_force());
    ///     println!("friction {friction}: F/(mu N) up to {ratio:.4}, push {push:.3} mN");
    ///     assert!(ratio <= 1.001);
    /// }
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found.
    pub fn insert(&self, wire: &Wire) -> Result<Assembly<'_>, Unresolved> {
        self.insert_with(wire, 0.0, StepSettings::default())
    }

    /// The same with a roll of the wire in degrees (about its forward direction; 0 points the tip's
    /// bend along the side of plane 0) and with settings of the steps.
    ///
    /// # Examples
    ///
    /// Contact points closer together than the default spacing of 0.25 mm:
    ///
    /// ```
    /// use bendwise::prelude::*;
    ///
    /// let vessel = VesselBuilder::tube_mm(3.0).straight_mm(30.0).build()?;
    /// let wire = WireBuilder::from_tip_load_gf(1.0, &[]).bend_mm_deg(5.0, 75.0).build()?;
    /// let settings = StepSettings { spacing_mm: 0.125, ..StepSettings::default() };
    /// let mut fine = vessel.insert_with(&wire, 0.0, settings)?;
    /// let mut usual = vessel.insert(&wire)?;
    /// fine.feed(10.0)?;
    /// usual.feed(10.0)?;
    /// let (fine, usual) = (fine.contact().largest_force, usual.contact().largest_force);
    /// println!("largest wall force: {usual:.3} mN, with finer contact {fine:.3} mN");
    /// assert!((fine - usual).abs() < 0.03 * fine);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found.
    pub fn insert_with(
        &self,
        wire: &Wire,
        roll_deg: f64,
        settings: StepSettings,
    ) -> Result<Assembly<'_>, Unresolved> {
        let inlet = &self.tree.branches()[0].centreline;
        let ends = self.tree.branches().iter();
        let longest = ends.map(|b| b.root_offset_mm + b.centreline.length_mm());
        let guide = GuideTip {
            exit: inlet.position(0.0),
            axis: inlet.tangent(0.0),
            backup: None,
        };
        let start = Start {
            outside_mm: OUTSIDE_MM,
            longest_mm: longest.fold(0.0, f64::max) + SPARE_MM,
            roll_rad: roll_deg.to_radians(),
        };
        let wall = self.wall;
        Assembly::straight(
            wire,
            WalledLumen::new(&self.tree, wall),
            guide,
            settings,
            start,
        )
    }
}
