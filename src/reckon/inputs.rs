//! Between a record's JSON and the structs of its topic, both ways. Must not know any topic: it
//! turns whatever the parser dislikes into a refusal that names the input at fault.
//!
//! JSON numbers are finite by the time they get here, so an `f64` field is a finite number.

use std::fmt;

use serde::Serialize;
use serde::de::{DeserializeOwned, Deserializer, Error, Unexpected, Visitor};
use serde_json::Value;

use super::frame::Refusal;

/// A record's inputs, parsed; the refusal names the input at fault.
pub(super) fn inputs<T: DeserializeOwned>(given: &Value) -> Result<T, Refusal> {
    serde_path_to_error::deserialize(given).map_err(|error| {
        let path = error.path().to_string();
        let said = in_plain_words(&error.into_inner().to_string());
        let code = match said.split(' ').take(2).collect::<Vec<_>>().as_slice() {
            ["missing", "field"] => "missing_input",
            ["unknown", "field"] => "unknown_input",
            ["invalid", "type:"] => "wrong_type",
            ["unknown", "variant"] => "unknown_name",
            _ => "out_of_range",
        };
        let named = path == "." || said.contains(&format!("`{path}`"));
        if named { Refusal::new(code, said) } else { Refusal::new(code, format!("{path}: {said}")) }
    })
}

/// A topic's outputs as JSON.
pub(super) fn outputs(found: &impl Serialize) -> Result<Value, Refusal> {
    serde_json::to_value(found).map_err(|error| Refusal::new("internal", error))
}

/// The parser speaks of its own types; callers know JSON's.
fn in_plain_words(said: &str) -> String {
    const LONGEST: usize = 300;
    let mut plain = said.to_owned();
    for (theirs, ours) in [
        ("expected f64", "expected a number"),
        ("expected a sequence", "expected an array"),
        ("expected a map", "expected an object"),
        ("invalid type: sequence", "invalid type: array"),
        ("invalid type: map", "invalid type: object"),
    ] {
        plain = plain.replace(theirs, ours);
    }
    plain.chars().take(LONGEST).collect()
}

/// Reads a count. `200.0` is 200: some languages print every number that way.
pub(super) fn whole<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u32, D::Error> {
    struct Whole;

    impl Visitor<'_> for Whole {
        type Value = u32;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            write!(f, "a whole number from 0 to {}", u32::MAX)
        }

        fn visit_u64<E: Error>(self, value: u64) -> Result<u32, E> {
            u32::try_from(value)
                .map_err(|_too_large| E::invalid_value(Unexpected::Unsigned(value), &self))
        }

        fn visit_i64<E: Error>(self, value: i64) -> Result<u32, E> {
            u32::try_from(value)
                .map_err(|_negative| E::invalid_value(Unexpected::Signed(value), &self))
        }

        fn visit_f64<E: Error>(self, value: f64) -> Result<u32, E> {
            let refused = || E::invalid_value(Unexpected::Float(value), &self);
            if value.fract().abs() > 0.0 || !(0.0..=f64::from(u32::MAX)).contains(&value) {
                return Err(refused());
            }
            // A whole double in range prints as the digits of its integer.
            format!("{value:.0}").trim_start_matches('-').parse().map_err(|_not_digits| refused())
        }
    }

    deserializer.deserialize_any(Whole)
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;
    use serde_json::json;

    use super::*;

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Trial {
        #[serde(deserialize_with = "whole")]
        shots: u32,
        #[serde(default)]
        speeds_ft_s: Vec<f64>,
    }

    fn check(given: &Value, code: &'static str, detail: &str) {
        assert_eq!(inputs::<Trial>(given), Err(Refusal::new(code, detail)));
    }

    #[test]
    fn a_refusal_has_a_code_and_names_the_input() {
        check(&json!({}), "missing_input", "missing field `shots`");
        check(
            &json!({"shots": 1, "arrows": 2}),
            "unknown_input",
            "unknown field `arrows`, expected `shots` or `speeds_ft_s`",
        );
        check(
            &json!({"shots": 1, "speeds_ft_s": [193, "fast"]}),
            "wrong_type",
            "speeds_ft_s[1]: invalid type: string \"fast\", expected a number",
        );
        check(
            &json!({"shots": 1, "speeds_ft_s": 193}),
            "wrong_type",
            "speeds_ft_s: invalid type: integer `193`, expected an array",
        );
    }

    #[test]
    fn a_count_is_whole_and_fits() {
        for (given, expected) in
            [(json!(0), 0), (json!(200.0), 200), (json!(4_294_967_295.0), u32::MAX)]
        {
            let read = inputs::<Trial>(&json!({ "shots": given }));
            assert_eq!(read.map(|trial| trial.shots), Ok(expected));
        }
        for given in [json!(-1), json!(0.5), json!(-1.0), json!(4_294_967_296_u64), json!(1e300)] {
            let Err(refused) = inputs::<Trial>(&json!({ "shots": given })) else {
                panic!("{given} was read")
            };
            let said = format!("{refused:?}");
            assert!(said.contains("out_of_range") && said.contains("shots:"), "{said}");
        }
    }
}
