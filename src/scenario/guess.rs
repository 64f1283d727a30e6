//! Marks at values that the program chose when it made a scenario of a bare file of anatomy.

use crate::shown::shortened;

/// How the comment behind such a value begins.
const MARK: &str = "# GUESS: ";
/// Most values that are listed.
const MOST: usize = 20;

/// The values of a scenario's text that still bear the mark, each with its line, in words; how they
/// are confirmed stands last. Empty where there are none.
#[must_use]
pub fn unconfirmed(text: &str) -> Vec<String> {
    let marked = text.lines().enumerate().filter_map(|(index, line)| {
        let (value, why) = line.split_once(MARK)?;
        let value = value.trim();
        (!value.is_empty() && !value.starts_with('#')).then(|| {
            shortened(format!(
                "guessed by the program, line {}: {value} ({})",
                index + 1,
                why.trim()
            ))
        })
    });
    let mut said: Vec<String> = marked.take(MOST).collect();
    if !said.is_empty() {
        said.push(
            "guessed values are marked GUESS in the scenario: put the right value there, or let it \
             stand, and delete the mark"
                .to_owned(),
        );
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marked_values_are_told_with_their_lines_and_others_are_not() {
        let text = "# a line marked # GUESS: waits\n[vessel]\nunits = \"mm\" # GUESS: by the size\n\
                    frame = \"scene\" # as said\n";
        let said = unconfirmed(text);
        assert_eq!(said.len(), 2, "{said:?}");
        assert!(
            said[0].ends_with("line 3: units = \"mm\" (by the size)"),
            "{said:?}"
        );
        assert!(said[1].contains("delete the mark"));
        assert!(unconfirmed("units = \"mm\"\n").is_empty());
    }
}
