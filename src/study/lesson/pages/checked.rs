//! What a page says of its scenario, held against it.

use super::{LessonError, LessonPage};
use crate::scenario::lesson::model::PageSpec;
use crate::scenario::lesson::{Measure, Text};
use crate::schema::Place;
use crate::shown::{cut, listed};

/// Refuses places in texts that the scenario does not have; returns the filled title.
pub(super) fn check_texts(page: &PageSpec, built: &LessonPage) -> Result<String, LessonError> {
    let filled = |(text, place): (&Text, Place)| {
        let pieces = text.pieces.iter();
        let words: Result<String, String> = pieces
            .map(|piece| built.words(piece).map(Option::unwrap_or_default))
            .collect();
        words.map_err(|reason| LessonError::At {
            place,
            reason,
            remedy: "correct the path in braces".to_owned(),
        })
    };
    let all: Result<Vec<String>, LessonError> = page.texts().map(filled).collect();
    // The title is the first of the texts.
    Ok(all?.swap_remove(0))
}

/// Refuses a view of a C-arm in a scene that has none.
pub(super) fn check_view(page: &PageSpec, built: &LessonPage) -> Result<(), LessonError> {
    let view = &page.opening.view;
    if !view.is_of_c_arm() || built.prepared.scenario().view.is_some() {
        return Ok(());
    }
    Err(LessonError::At {
        place: page.place.field("view"),
        reason: format!(
            "{} is a view by the C-arm, and the scenario does not say how that stands",
            view.written()
        ),
        remedy: "add [view] with patient_frame to the scenario, or write \"whole vessel\" or \"branching\""
            .to_owned(),
    })
}

/// Refuses branches in measures that the vessel does not have.
pub(super) fn check_branches(page: &PageSpec, built: &LessonPage) -> Result<(), LessonError> {
    let names: Vec<&str> = built
        .prepared
        .tree()
        .branches()
        .iter()
        .map(|b| &*b.name)
        .collect();
    let in_texts = page.texts().flat_map(|(text, place)| {
        text.expressions()
            .map(move |e| (e, place.clone()))
            .collect::<Vec<_>>()
    });
    let in_claims = page
        .claims
        .iter()
        .map(|claim| (&claim.value, claim.place.field("value")));
    for (expression, place) in in_texts.chain(in_claims) {
        for operand in expression.operands() {
            if let Measure::TipIn(branch) = &operand.measure
                && !names.contains(&branch.as_str())
            {
                return Err(LessonError::At {
                    place,
                    reason: format!("the vessel has no branch {}", cut(branch)),
                    remedy: format!("there is {}", listed(&names)),
                });
            }
        }
    }
    Ok(())
}
