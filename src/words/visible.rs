//! Text from elsewhere (a file, a name, another bench, a server) made harmless for a terminal: what would steer it is shown
//! as the number of its letter, such as `<U+001B>`, so that a person sees that something is there.

use std::borrow::Cow;
use std::fmt::Write;

/// Whether a terminal obeys this letter instead of showing it, or it changes how the letters beside it are read: control
/// characters (C0, DEL, C1), marks of the writing direction, separators of lines, and letters without a width.
///
/// Joiners stay: some scripts are not written without them.
#[must_use]
pub const fn steers(letter: char) -> bool {
    matches!(
        letter,
        '\0'..='\x1f'
            | '\x7f'..='\u{9f}'
            | '\u{61c}'
            | '\u{200b}'
            | '\u{200e}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}'
            | '\u{e0000}'..='\u{e007f}'
    )
}

/// A text of several lines: ends of lines and tabs stay, all else that steers is shown.
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    // What comes from another system ends its lines in two letters.
    match text.contains("\r\n") {
        true => Cow::Owned(shown(&text.replace("\r\n", "\n"), &['\n', '\t']).into_owned()),
        false => shown(text, &['\n', '\t']),
    }
}

/// A name or a note, which stands within a line: ends of lines and tabs are shown too.
#[must_use]
pub fn one_line(text: &str) -> Cow<'_, str> {
    shown(text, &[])
}

/// A JSON document with the same meaning in which nothing steers: within its texts such letters are written as escapes
/// (RFC 8259, 7).
#[must_use]
pub fn visible_json(document: &str) -> Cow<'_, str> {
    let hidden = |letter: char| steers(letter) && !letter.is_ascii_whitespace();
    if !document.contains(hidden) {
        return Cow::Borrowed(document);
    }
    let mut out = String::with_capacity(document.len() + 16);
    for letter in document.chars() {
        if hidden(letter) {
            for unit in letter.encode_utf16(&mut [0; 2]) {
                // Writing to a String cannot fail.
                let _ = write!(out, "\\u{unit:04x}");
            }
        } else {
            out.push(letter);
        }
    }
    Cow::Owned(out)
}

fn shown<'a>(text: &'a str, kept: &[char]) -> Cow<'a, str> {
    let hidden = |letter: char| steers(letter) && !kept.contains(&letter);
    if !text.contains(hidden) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for letter in text.chars() {
        if hidden(letter) {
            // Writing to a String cannot fail.
            let _ = write!(out, "<U+{:04X}>", u32::from(letter));
        } else {
            out.push(letter);
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_a_terminal_is_shown_and_what_people_write_stays() {
        let hostile = "a\x1b[2J\x07\u{9b}31m\u{7f}\u{202e}b\u{2066}\u{200b}\u{feff}\r";
        let shown = visible(hostile);
        assert!(!shown.contains(steers), "{shown:?}");
        assert_eq!(shown, "a<U+001B>[2J<U+0007><U+009B>31m<U+007F><U+202E>b<U+2066><U+200B><U+FEFF><U+000D>");
        for plain in ["±0.05° · Größe 直升机 کوچک \u{200c}\u{200d} 🚁", "one\n\ttwo", ""] {
            assert!(matches!(visible(plain), Cow::Borrowed(same) if same == plain));
        }
        assert_eq!(visible("one\r\ntwo"), "one\ntwo");
        assert_eq!(one_line("one\n\ttwo\r\n"), "one<U+000A><U+0009>two<U+000D><U+000A>");
    }

    #[test]
    fn a_json_document_means_the_same_afterwards() {
        let name = "a\u{1b}\u{9b}\u{202e}\u{7f}\u{e0041}b°";
        let document = serde_json::to_string_pretty(&serde_json::json!({ "name": name })).unwrap();
        let shown = visible_json(&document);
        assert!(!shown.replace('\n', "").contains(steers), "{shown:?}");
        let back: serde_json::Value = serde_json::from_str(&shown).unwrap();
        assert_eq!(back["name"], name);
        assert!(matches!(visible_json("{\"name\": \"a°\"}"), Cow::Borrowed(_)));
    }
}
