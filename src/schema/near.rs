//! The nearest known name to a misspelt one.

/// Likeness (normalised Damerau-Levenshtein, 0 to 1) from which a known name is suggested: half
/// of the letters agree.
const LIKE_ENOUGH: f64 = 0.5;
/// Most bytes of a word or path that is compared.
const LONGEST: usize = 300;

/// The candidate most like `word`, upper and lower case alike, if any is like enough.
#[must_use]
pub fn nearest<'a, I>(word: &str, candidates: I) -> Option<&'a str>
where
    I: IntoIterator<Item = &'a str>,
{
    // What is far longer than any name is none misspelt, and the comparison takes the product of
    // the lengths.
    let is_name = |text: &str| text.len() <= LONGEST;
    if !is_name(word) {
        return None;
    }
    let word = word.to_lowercase();
    candidates
        .into_iter()
        .filter(|candidate| is_name(candidate))
        .map(|candidate| {
            let likeness = strsim::normalized_damerau_levenshtein(&word, &candidate.to_lowercase());
            (likeness, candidate)
        })
        .filter(|(likeness, _)| *likeness >= LIKE_ENOUGH)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn a_slip_of_the_keyboard_finds_its_field() {
        let known = ["diameter_mm", "length_mm", "friction"];
        assert_eq!(nearest("diamter_mm", known), Some("diameter_mm"));
        assert_eq!(nearest("FRICTION", known), Some("friction"));
    }

    #[test]
    fn a_stranger_finds_nothing() {
        assert_eq!(nearest("colour", ["diameter_mm", "turns"]), None);
    }
}
