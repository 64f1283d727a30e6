//! How the playback of a page opens: from where it is seen, and at which moment.

use crate::scenario::view::ViewAngles;
use crate::schema::{Place, Read, Refusal};

/// From where a page's picture is seen, and where along the trial it opens.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Opening {
    /// The view.
    pub view: PageView,
    /// How far the view is turned from there, to the right and up, in degrees.
    pub turned_deg: [f64; 2],
    /// The moment.
    pub moment: OpeningMoment,
}

/// A view of a page.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum PageView {
    /// The whole vessel, turned so that the branching lies flat in the picture.
    #[default]
    Whole,
    /// The branching of the target, flat in the picture.
    Branching,
    /// As by the C-arm in the technique's sight, else in the scenario's current view.
    CArm,
    /// As by the C-arm at these angles.
    Angles(ViewAngles),
}

/// A moment of a trial at which a page opens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum OpeningMoment {
    /// The first step.
    Start,
    /// The tip is nearest to the target's mouth when it first comes there.
    AtMouth,
    /// The hand pushes hardest.
    LargestPush,
    /// A millimetre of wall is pressed hardest.
    LargestWallForce,
    /// The last step.
    #[default]
    End,
}

impl PageView {
    const NAMED: [(&'static str, Self); 3] = [
        ("whole vessel", Self::Whole),
        ("branching", Self::Branching),
        ("C-arm", Self::CArm),
    ];

    /// Reads a name, or the angles of a C-arm.
    pub(super) fn read(text: &str, place: &Place) -> Read<Self> {
        if let Some((_, view)) = Self::NAMED.iter().find(|(name, _)| *name == text) {
            return Ok(*view);
        }
        let angles = ViewAngles::parse(text).map_err(|reason| {
            Refusal::at(
                place.clone(),
                format!("it is no view: {reason}"),
                "write \"whole vessel\", \"branching\", \"C-arm\", or angles such as \"RAO 30 CAU 20\"",
            )
        })?;
        Ok(Self::Angles(angles))
    }

    /// Whether it is one of a C-arm.
    #[must_use]
    pub fn is_of_c_arm(&self) -> bool {
        matches!(self, Self::CArm | Self::Angles(_))
    }

    /// As it is written in a lesson.
    #[must_use]
    pub fn written(&self) -> String {
        match self {
            Self::Angles(angles) => angles.to_string(),
            named => {
                let mut all = Self::NAMED.iter();
                let own = all.find(|(_, view)| view == named);
                own.map_or_else(String::new, |(name, _)| (*name).to_owned())
            }
        }
    }
}

impl OpeningMoment {
    const NAMED: [(&'static str, Self); 5] = [
        ("start", Self::Start),
        ("mouth", Self::AtMouth),
        ("largest push", Self::LargestPush),
        ("largest wall force", Self::LargestWallForce),
        ("end", Self::End),
    ];

    /// Reads a name.
    pub(super) fn read(text: &str, place: &Place) -> Read<Self> {
        let found = Self::NAMED.iter().find(|(name, _)| *name == text);
        found.map(|(_, moment)| *moment).ok_or_else(|| {
            let names = Self::NAMED.iter().map(|(name, _)| *name);
            Refusal::unknown(place.clone(), "a moment of a trial", names)
        })
    }

    /// As it is written in a lesson.
    #[must_use]
    pub fn written(self) -> &'static str {
        let mut all = Self::NAMED.iter();
        all.find(|(_, moment)| *moment == self)
            .map_or("", |(name, _)| name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_read_back_as_it_is_written() {
        let place = Place::top("page").entry(0).field("view");
        for text in ["whole vessel", "branching", "C-arm", "RAO 30 CAU 20"] {
            assert_eq!(PageView::read(text, &place).unwrap().written(), text);
        }
        for (name, _) in OpeningMoment::NAMED {
            assert_eq!(OpeningMoment::read(name, &place).unwrap().written(), name);
        }
        assert!(PageView::read("from above", &place).is_err());
        assert!(OpeningMoment::read("middle", &place).is_err());
    }
}
