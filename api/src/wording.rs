//! What a parser says of a text, in words for whoever sent it: without the names of this program's
//! types, and without handing back all that was sent. It knows no field and no status.

/// The most characters of a detail that is answered, and of the value that it quotes.
pub(crate) const MOST_CHARS: usize = 200;
const MOST_QUOTED: usize = 100;

/// The beginning of a text, with a mark where something was left out.
pub(crate) fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most.saturating_sub(1)).chain(['…']).collect()
}

/// What serde and its formats say, in plain words. They all put what they expected last.
pub(crate) fn plain(words: &str) -> String {
    if words.contains("UUID parsing failed") {
        return "expected a UUID".to_owned();
    }
    if words == "invalid digit found in string"
        || words == "cannot parse integer from empty string"
        || words.starts_with("number too ")
    {
        return "expected a whole number".to_owned();
    }
    let (found, expected) = words.rsplit_once(", expected ").unwrap_or((words, ""));
    let found = cut(found, MOST_QUOTED)
        .replace("invalid type: map", "invalid type: object")
        .replace("invalid type: sequence", "invalid type: array");
    let expected = match expected {
        "" => return found,
        "i8" | "i16" | "i32" | "i64" | "u8" | "u16" | "u32" | "u64" | "usize" => "a whole number",
        "f32" | "f64" => "a number",
        "a sequence" => "an array",
        "a formatted UUID string" => "a UUID",
        other => other,
    };
    cut(&format!("{found}, expected {expected}"), MOST_CHARS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_type_of_this_program_is_named() {
        for (said, plainly) in [
            (
                "invalid type: string \"x\", expected i64",
                "invalid type: string \"x\", expected a whole number",
            ),
            ("invalid type: null, expected f64", "invalid type: null, expected a number"),
            (
                "invalid value: integer `-1`, expected u32",
                "invalid value: integer `-1`, expected a whole number",
            ),
            ("invalid type: map, expected a sequence", "invalid type: object, expected an array"),
            (
                "UUID parsing failed: invalid length: expected length 32 for simple format, found 2",
                "expected a UUID",
            ),
            ("number too large to fit in target type", "expected a whole number"),
            ("missing field `shots`", "missing field `shots`"),
        ] {
            assert_eq!(plain(said), plainly);
        }
    }

    #[test]
    fn a_long_value_is_not_handed_back() {
        let long = format!("invalid type: string \"{}\", expected i64", "弓".repeat(100_000));
        let told = plain(&long);
        assert!(told.chars().count() <= MOST_CHARS, "{told}");
        assert!(told.ends_with("…, expected a whole number"), "{told}");
        assert_eq!(cut("abc", 3), "abc");
        assert_eq!(cut("abcd", 3), "ab…");
    }
}
