//! Makes one last try at input that is not JSON only because of a number or a depth: turns each
//! such value into a text that says what it was, so that its record alone is refused, by name,
//! and the rest of the batch still answers. Must not know records, topics or inputs.
//!
//! JSON has no NaN and no infinity, yet several languages print them; and a number past the range
//! of a double is JSON that cannot be held.

use std::iter::Peekable;
use std::str::Chars;

/// Deeper nesting than any record needs, and less than the parser's own limit.
const MAX_DEPTH: usize = 64;

/// The same text with every number that is not finite, and everything nested too deeply, replaced
/// by a JSON string. All other text is kept as it is, valid or not.
pub(super) fn repair(text: &str) -> String {
    let mut repaired = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    let mut depth = 0_usize;
    while let Some(c) = rest.next() {
        match c {
            '"' => copy_string(&mut rest, &mut repaired),
            '[' | '{' if depth == MAX_DEPTH => {
                skip_nested(&mut rest);
                repaired.push_str("\"(nested too deeply)\"");
            }
            '[' | '{' => {
                depth += 1;
                repaired.push(c);
            }
            ']' | '}' => {
                depth = depth.saturating_sub(1);
                repaired.push(c);
            }
            _ if is_word(c) => copy_word(c, &mut rest, &mut repaired),
            _ => repaired.push(c),
        }
    }
    repaired
}

fn is_word(c: char) -> bool {
    c.is_ascii_alphanumeric() || matches!(c, '-' | '+' | '.')
}

/// Copies a number or a bare word; a number without a finite value becomes a string of itself.
fn copy_word(first: char, rest: &mut Peekable<Chars<'_>>, repaired: &mut String) {
    let mut word = String::from(first);
    while let Some(c) = rest.next_if(|c| is_word(*c)) {
        word.push(c);
    }
    // Rust reads NaN, inf and infinity as numbers too, whatever their case and sign.
    if word.parse::<f64>().is_ok_and(|value| !value.is_finite()) {
        let shown: String = word.chars().take(40).collect();
        repaired.extend(["\"", &shown, "\""]);
    } else {
        repaired.push_str(&word);
    }
}

/// Copies the rest of a string, its closing quote included.
fn copy_string(rest: &mut Peekable<Chars<'_>>, repaired: &mut String) {
    repaired.push('"');
    while let Some(c) = rest.next() {
        repaired.push(c);
        match c {
            '"' => return,
            '\\' => repaired.extend(rest.next()),
            _ => {}
        }
    }
}

/// Passes over everything up to the bracket that closes the one just read.
fn skip_nested(rest: &mut Peekable<Chars<'_>>) {
    let mut open = 1_usize;
    while let Some(c) = rest.next() {
        match c {
            '"' => copy_string(rest, &mut String::new()),
            '[' | '{' => open += 1,
            ']' | '}' => open -= 1,
            _ => {}
        }
        if open == 0 {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: &str) {
        assert_eq!(repair(text), expected);
    }

    #[test]
    fn numbers_without_a_finite_value_become_strings() {
        check("[NaN, -Infinity,1e999]", r#"["NaN", "-Infinity","1e999"]"#);
        check(r#"{"a":-1e400}"#, r#"{"a":"-1e400"}"#);
    }

    #[test]
    fn everything_else_is_left_alone() {
        for text in [r#"[1, -2.5e3, true, null, "NaN", "1e999 \" NaN"]"#, "[nope, 1..2", "\"\\", ""]
        {
            check(text, text);
        }
    }

    #[test]
    fn only_what_is_nested_too_deeply_is_lost() {
        let deep = "[".repeat(100_000) + "\"]\"" + &"]".repeat(100_000);
        let repaired = repair(&deep);
        assert!(repaired.len() < 200, "{}", repaired.len());
        assert!(serde_json::from_str::<serde_json::Value>(&repaired).is_ok());
    }
}
