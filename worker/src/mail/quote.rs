//! Makes foreign words safe to keep and to show: in a log line, a table, a header.

/// The most characters that are kept of what a relay said.
const KEPT_CHARS: usize = 500;

/// What somebody else's program said, on one line and not too long: control characters and marks
/// that turn the text's direction are escaped.
pub(super) fn quote(said: &str) -> String {
    let mut quoted = String::new();
    for c in said.trim().chars().take(KEPT_CHARS + 1) {
        if is_unruly(c) {
            quoted.extend(c.escape_default());
        } else {
            quoted.push(c);
        }
    }
    if quoted.chars().count() > KEPT_CHARS {
        quoted = quoted.chars().take(KEPT_CHARS - 1).chain(['\u{2026}']).collect();
    }
    quoted
}

/// A name for a header: each control character and direction mark becomes a space.
pub(super) fn plain(name: &str) -> String {
    let spaced: String = name.chars().map(|c| if is_unruly(c) { ' ' } else { c }).collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn is_unruly(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_said_fits_one_line_and_a_table() {
        assert_eq!(quote(" 250 ok\r\n"), "250 ok");
        assert_eq!(quote("a\r\nb\u{1b}[31m\u{202e}"), r"a\r\nb\u{1b}[31m\u{202e}");
        assert_eq!(quote(&"é".repeat(500)), "é".repeat(500));
        assert_eq!(quote(&"é".repeat(501)), "é".repeat(499) + "…");
    }

    #[test]
    fn a_name_loses_what_would_break_a_header() {
        assert_eq!(plain("Ada\r\nBcc: x@example.org"), "Ada Bcc: x@example.org");
        assert_eq!(plain("\u{202e}\0\u{85}"), "");
        assert_eq!(plain("Ægir 弓"), "Ægir 弓");
    }
}
