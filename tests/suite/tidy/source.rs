//! Reading source as text: which bytes are code, and where brackets end.
//!
//! Comments and literals are blanked with spaces of the same length, so that a position in the
//! blanked text is the same position in the real one. It knows no rule of the house.

/// Rust with comments, strings and character literals blanked.
pub(super) fn blank_rust(text: &str) -> String {
    let mut out = text.as_bytes().to_vec();
    let mut at = 0;
    while at < text.len() {
        let rest = &text.as_bytes()[at..];
        let end = at + rust_literal_or_comment(rest);
        if end > at {
            blank(&mut out, at, end);
            at = end;
        } else {
            at += word_length(rest).max(1);
        }
    }
    String::from_utf8(out).unwrap()
}

/// SQL with comments and string literals blanked; quoted names stay.
pub(super) fn blank_sql(text: &str) -> String {
    let mut out = text.as_bytes().to_vec();
    let mut at = 0;
    while at < text.len() {
        let rest = &text.as_bytes()[at..];
        let length = match rest {
            [b'-', b'-', ..] => line_length(rest),
            [b'/', b'*', ..] => length_to(rest, b"*/", 2),
            [b'\'', ..] => length_to(rest, b"'", 1),
            _ => 0,
        };
        blank(&mut out, at, at + length);
        at += length.max(1);
    }
    String::from_utf8(out).unwrap()
}

/// Length of the comment or literal that begins here; 0 when none does.
fn rust_literal_or_comment(rest: &[u8]) -> usize {
    match rest {
        [b'/', b'/', ..] => line_length(rest),
        [b'/', b'*', ..] => length_to(rest, b"*/", 2),
        [b'"', ..] => escaped_length(rest, b'"'),
        [b'b', b'"', ..] => 1 + escaped_length(&rest[1..], b'"'),
        [b'r', b'"' | b'#', ..] => raw_string_length(rest),
        [b'b', b'r', b'"' | b'#', ..] => 1 + raw_string_length(&rest[1..]),
        // A lifetime has no closing quote two characters on.
        [b'\'', b'\\', ..] => escaped_length(rest, b'\''),
        [b'\'', ..] => char_length(rest),
        _ => 0,
    }
}

fn char_length(rest: &[u8]) -> usize {
    let one = std::str::from_utf8(&rest[1..rest.len().min(6)])
        .unwrap_or_else(|error| std::str::from_utf8(&rest[1..=error.valid_up_to()]).unwrap())
        .chars()
        .next()
        .map_or(0, char::len_utf8);
    if one > 0 && rest.get(1 + one) == Some(&b'\'') { one + 2 } else { 0 }
}

fn raw_string_length(rest: &[u8]) -> usize {
    let hashes = rest[1..].iter().take_while(|byte| **byte == b'#').count();
    if rest.get(1 + hashes) != Some(&b'"') {
        return 0; // `r#type` is a name
    }
    let mut close = vec![b'"'];
    close.extend(std::iter::repeat_n(b'#', hashes));
    length_to(rest, &close, hashes + 2)
}

fn escaped_length(rest: &[u8], close: u8) -> usize {
    let mut at = 1;
    while at < rest.len() && rest[at] != close {
        at += if rest[at] == b'\\' { 2 } else { 1 };
    }
    (at + 1).min(rest.len())
}

fn line_length(rest: &[u8]) -> usize {
    rest.iter().position(|byte| *byte == b'\n').unwrap_or(rest.len())
}

fn length_to(rest: &[u8], close: &[u8], from: usize) -> usize {
    rest[from.min(rest.len())..]
        .windows(close.len())
        .position(|window| window == close)
        .map_or(rest.len(), |position| from + position + close.len())
}

/// A whole identifier is stepped over at once: the `r` of `for"` begins no literal.
fn word_length(rest: &[u8]) -> usize {
    rest.iter().take_while(|byte| is_word(**byte)).count()
}

fn blank(out: &mut [u8], from: usize, to: usize) {
    for byte in &mut out[from..to] {
        if *byte != b'\n' {
            *byte = b' ';
        }
    }
}

pub(super) fn is_word(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'_'
}

/// Position of the bracket that closes the one at `open`, in blanked text.
pub(super) fn closing(blanked: &str, open: usize) -> Option<usize> {
    let mut depth = 0_usize;
    for (at, byte) in blanked.bytes().enumerate().skip(open) {
        match byte {
            b'(' | b'[' | b'{' => depth += 1,
            b')' | b']' | b'}' => depth = depth.checked_sub(1)?,
            _ => continue,
        }
        if depth == 0 {
            return Some(at);
        }
    }
    None
}

/// Positions of `needle`, which begins with a word, where it is not inside a longer one.
pub(super) fn words(text: &str, needle: &str) -> Vec<usize> {
    let bytes = text.as_bytes();
    text.match_indices(needle)
        .map(|(at, _)| at)
        .filter(|at| {
            let before = at.checked_sub(1).is_some_and(|before| is_word(bytes[before]));
            let after = bytes.get(at + needle.len()).is_some_and(|byte| is_word(*byte));
            let goes_on = after && needle.bytes().last().is_some_and(is_word);
            !before && !goes_on
        })
        .collect()
}

/// The number of the line that holds a position, from 1.
pub(super) fn line_of(text: &str, at: usize) -> usize {
    1 + text[..at].matches('\n').count()
}

/// Whether a line between two positions carries `-- mark: reason` or `// mark: reason`, the reason
/// not empty.
pub(super) fn is_marked(text: &str, from: usize, to: usize, mark: &str) -> bool {
    let lines = line_of(text, to) - line_of(text, from) + 1;
    text.lines()
        .skip(line_of(text, from) - 1)
        .take(lines)
        .any(|line| line.split_once(mark).is_some_and(|(_, reason)| !reason.trim().is_empty()))
}

#[test]
fn comments_and_literals_are_blanked_in_place() {
    let check = |rust: &str, expected: &str| assert_eq!(blank_rust(rust), expected, "{rust}");
    check("a; // b;\nc", "a;      \nc");
    check("f(\"x;\\\";\") + 1", "f(       ) + 1");
    check("f('\"', ';', '\\'') + 'é'", "f(   ,    ,     ) +     ");
    check("fn f<'a>(x: &'a str)", "fn f<'a>(x: &'a str)");
    check("r#\"a \" b\"# + r#type", "           + r#type");
    check("let ber = b\"x\"; /* ; */ y", "let ber =     ;         y");
    assert_eq!(blank_sql("a 'it''s' -- x\nb /* , */ \"c\""), "a             \nb         \"c\"");
}

#[test]
fn words_are_whole_and_lines_count_from_one() {
    assert_eq!(words("due::a undue::b due::", "due::"), [0, 16]);
    assert_eq!(line_of("a\nb\nc", 2), 2);
    assert!(is_marked("a // mark: why\nb", 0, 1, "// mark:"));
    assert!(!is_marked("a // mark: \nb // mark: why", 0, 1, "// mark:"));
}
