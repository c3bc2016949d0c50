//! Lines of a calendar's text: what stands for a character that has a meaning of its own, and where a
//! line is broken. Knows no property.

/// The most octets of a line, its line break not counted (RFC 5545, section 3.1).
pub(super) const MOST_OCTETS: usize = 75;

/// A value of the type TEXT (RFC 5545, section 3.3.11): a backslash before what separates values, `\n`
/// for a line break. Other control characters may not stand in one, and are left out.
pub(super) fn escaped(text: &str) -> String {
    let mut value = String::with_capacity(text.len());
    for c in text.replace("\r\n", "\n").chars() {
        match c {
            '\\' | ';' | ',' => value.extend(['\\', c]),
            '\n' | '\r' | '\u{2028}' | '\u{2029}' => value.push_str("\\n"),
            '\t' => value.push(' '),
            _ if c.is_control() => {}
            _ => value.push(c),
        }
    }
    value
}

/// The value of a parameter, in quotes (RFC 5545, section 3.2): there is no way to write a quote or a
/// control character in one.
pub(super) fn quoted(text: &str) -> String {
    let kept = text.chars().filter(|c| !c.is_control());
    let kept: String = kept.map(|c| if c == '"' { '\'' } else { c }).collect();
    format!("\"{kept}\"")
}

/// Adds a line, broken where it is too long, and its line break. What goes on begins with a space, which
/// is one of the 75 octets, and no character is torn.
pub(super) fn push(text: &mut String, line: &str) {
    let mut octets = 0;
    for c in line.chars() {
        if octets + c.len_utf8() > MOST_OCTETS {
            text.push_str("\r\n ");
            octets = 1;
        }
        text.push(c);
        octets += c.len_utf8();
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Reads a value back, by the words of RFC 5545, section 3.3.11.
    fn unescaped(value: &str) -> String {
        let (mut text, mut chars) = (String::new(), value.chars());
        while let Some(c) = chars.next() {
            let escaped = if c == '\\' { chars.next() } else { None };
            text.push(match escaped {
                Some('n' | 'N') => '\n',
                Some(escaped) => escaped,
                None => c,
            });
        }
        text
    }

    fn folded(line: &str) -> String {
        let mut text = String::new();
        push(&mut text, line);
        text
    }

    #[test]
    fn what_separates_values_is_escaped_and_what_controls_is_left_out() {
        for (text, value) in [
            ("wax, then shoot; rest", "wax\\, then shoot\\; rest"),
            ("C:\\bow", "C:\\\\bow"),
            ("one\r\ntwo\rthree\nfour", "one\\ntwo\\nthree\\nfour"),
            ("bell\u{7}\0 \u{85}tab\tend", "bell tab end"),
            ("a\u{2028}b", "a\\nb"),
        ] {
            assert_eq!(escaped(text), value, "{text:?}");
        }
        assert_eq!(quoted("Ada \"Blue\"\r\nX:1"), "\"Ada 'Blue'X:1\"");
    }

    #[test]
    fn a_line_is_broken_after_75_octets_and_before_a_character_that_would_be_torn() {
        assert_eq!(folded(&"x".repeat(75)), format!("{}\r\n", "x".repeat(75)));
        assert_eq!(folded(&"x".repeat(76)), format!("{}\r\n x\r\n", "x".repeat(75)));
        // 74 octets and two of the next character do not fit.
        let torn = format!("{}é", "x".repeat(74));
        assert_eq!(folded(&torn), format!("{}\r\n é\r\n", "x".repeat(74)));
        assert_eq!(folded(""), "\r\n");
    }

    proptest! {
        #[test]
        fn no_line_is_too_long_and_all_of_it_is_read_back(line in "[^\\p{Cc}]{0,400}") {
            let text = folded(&line);
            prop_assert!(text.split("\r\n").all(|line| line.len() <= MOST_OCTETS));
            prop_assert_eq!(text.strip_suffix("\r\n").unwrap().replace("\r\n ", ""), line);
        }

        #[test]
        fn a_value_is_read_back_as_it_was(text in "([^\\p{Cc}\u{2028}\u{2029}]|\n){0,200}") {
            let value = escaped(&text);
            prop_assert!(!value.contains('\n'));
            prop_assert_eq!(unescaped(&value), text);
        }

        #[test]
        fn a_value_holds_no_control_character(text in any::<String>()) {
            prop_assert!(!escaped(&text).chars().any(char::is_control));
            prop_assert!(!quoted(&text).chars().any(char::is_control));
        }
    }
}
