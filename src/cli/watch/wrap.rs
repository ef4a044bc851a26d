//! Lines broken between words.

use crate::words::visible;

/// The lines of a text, none longer than so many characters unless one word is.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in visible(text).split_whitespace() {
        match lines.last_mut().filter(|line| line.chars().count() + 1 + word.chars().count() <= width) {
            Some(line) => {
                line.push(' ');
                line.push_str(word);
            }
            None => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    #[test]
    fn lines_are_broken_between_words_and_never_lose_one() {
        let text = "Lift the cable so that it pulls at nothing, and hold still.";
        let lines = wrapped(text, 20);
        assert!(lines.iter().all(|line| line.chars().count() <= 20), "{lines:?}");
        assert_eq!(lines.join(" "), text);
        assert!(wrapped("", 20).is_empty());
        assert_eq!(wrapped("unbreakable", 4), ["unbreakable"]);
    }
}
