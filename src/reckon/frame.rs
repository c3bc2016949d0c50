//! The frame around every topic: reads the array of records, hands each record's inputs to its
//! topic, writes one answer a record. Must not know what any topic computes.
//!
//! One record can never take another down: whatever is wrong with it becomes its own error, with
//! a stable code and a sentence that names the input at fault.

use std::fmt::{self, Display};
use std::io::{self, Read, Write};
use std::panic::catch_unwind;

use serde::Serialize;
use serde_json::{Map, Value};

use super::TOPICS;
use super::repair::repair;

/// A topic: from a record's inputs to its outputs.
pub(super) type Topic = fn(&Value) -> Result<Value, Refusal>;

/// Why one record has no outputs.
#[derive(Debug, PartialEq, Serialize)]
pub(super) struct Refusal {
    code: &'static str,
    detail: String,
}

impl Refusal {
    pub(super) fn new(code: &'static str, detail: impl Display) -> Self {
        Self { code, detail: detail.to_string() }
    }

    /// An input that is a number, but not one the topic is defined for.
    pub(super) fn out_of_range(detail: &impl Display) -> Self {
        Self::new("out_of_range", detail)
    }

    /// An input that names something not known here.
    pub(super) fn unknown_name(detail: &impl Display) -> Self {
        Self::new("unknown_name", detail)
    }
}

/// Why a whole batch has no answers.
#[derive(Debug)]
pub(crate) enum ReckonError {
    /// The input is not a JSON array.
    NotAnArray(String),
    /// The input could not be read.
    Read(io::Error),
    /// The answers could not be written.
    Write(io::Error),
}

impl ReckonError {
    /// What the process should exit with: 2 where the caller has to mend the input.
    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::NotAnArray(_) => 2,
            Self::Read(_) | Self::Write(_) => 1,
        }
    }
}

impl Display for ReckonError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAnArray(found) => write!(
                f,
                "standard input must be one JSON array of {{\"id\", \"topic\", \"inputs\"}}: {found}"
            ),
            Self::Read(error) => write!(f, "standard input could not be read: {error}"),
            Self::Write(error) => write!(f, "the answers could not be written: {error}"),
        }
    }
}

impl std::error::Error for ReckonError {}

/// One line of the output array.
#[derive(Debug, PartialEq, Serialize)]
struct Answer {
    id: Value,
    topic: Value,
    #[serde(flatten)]
    result: Outcome,
}

#[derive(Debug, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
enum Outcome {
    Outputs(Value),
    Error(Refusal),
}

/// Answers every record of the array on `input`, in order, on `output`.
pub(crate) fn run(mut input: impl Read, mut output: impl Write) -> Result<(), ReckonError> {
    let mut bytes = Vec::new();
    input.read_to_end(&mut bytes).map_err(ReckonError::Read)?;
    let records = records(&bytes)?;
    write_answers(&records, &mut output).map_err(ReckonError::Write)
}

fn records(bytes: &[u8]) -> Result<Vec<Value>, ReckonError> {
    let not_an_array = |found: &dyn Display| ReckonError::NotAnArray(found.to_string());
    let text = std::str::from_utf8(bytes).map_err(|error| not_an_array(&error))?;
    let parsed = serde_json::from_str(text)
        .or_else(|first| serde_json::from_str(&repair(text)).map_err(|_second| first))
        .map_err(|error| not_an_array(&error))?;
    match parsed {
        Value::Array(records) => Ok(records),
        other => Err(not_an_array(&format_args!("found {}", kind(&other)))),
    }
}

fn write_answers(records: &[Value], output: &mut impl Write) -> io::Result<()> {
    output.write_all(b"[")?;
    for (index, record) in records.iter().enumerate() {
        output.write_all(if index == 0 { b"\n" } else { b",\n" })?;
        output.write_all(&serde_json::to_vec(&answer(record, TOPICS))?)?;
    }
    output.write_all(b"\n]\n")?;
    output.flush()
}

fn answer(record: &Value, topics: &[(&str, Topic)]) -> Answer {
    let field = |name| record.get(name).cloned().unwrap_or(Value::Null);
    let id = Some(field("id")).filter(|id| id.is_string() || id.is_number());
    let topic = Some(field("topic")).filter(Value::is_string);
    let result = match outputs_of(record, topics) {
        Ok(outputs) => Outcome::Outputs(outputs),
        Err(refusal) => Outcome::Error(refusal),
    };
    Answer { id: id.unwrap_or(Value::Null), topic: topic.unwrap_or(Value::Null), result }
}

fn outputs_of(record: &Value, topics: &[(&str, Topic)]) -> Result<Value, Refusal> {
    let invalid = |detail: &dyn Display| Refusal::new("invalid_record", detail);
    let Some(fields) = record.as_object() else {
        return Err(invalid(&format_args!("a record must be an object, not {}", kind(record))));
    };
    if !fields.get("id").is_some_and(|id| id.is_string() || id.is_number()) {
        return Err(invalid(&"`id` must be a string or a number"));
    }
    let Some(name) = fields.get("topic").and_then(Value::as_str) else {
        return Err(invalid(&"`topic` must be a string"));
    };
    let Some((_, topic)) = topics.iter().find(|(known, _)| *known == name) else {
        let shown: String = name.chars().take(80).collect();
        return Err(Refusal::new("unknown_topic", format_args!("topic {shown:?} is not known")));
    };
    let nothing = Value::Object(Map::new());
    let inputs = fields.get("inputs").unwrap_or(&nothing);
    if !inputs.is_object() {
        return Err(invalid(&format_args!("`inputs` must be an object, not {}", kind(inputs))));
    }
    // A defect in one topic must not cost the caller the rest of the batch.
    catch_unwind(|| topic(inputs)).unwrap_or_else(|_panic| {
        Err(Refusal::new("internal", format_args!("a defect in {name}; please report it")))
    })
}

fn kind(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "a boolean",
        Value::Number(_) => "a number",
        Value::String(_) => "a string",
        Value::Array(_) => "an array",
        Value::Object(_) => "an object",
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[expect(clippy::unnecessary_wraps, reason = "it has the shape of every topic")]
    fn echo(given: &Value) -> Result<Value, Refusal> {
        Ok(given.clone())
    }

    fn defective(_given: &Value) -> Result<Value, Refusal> {
        panic!("a defect made on purpose")
    }

    const TRIED: &[(&str, Topic)] = &[("test/echo", echo), ("test/defective", defective)];

    fn check(record: &Value, expected: &Value) {
        let answered = serde_json::to_value(answer(record, TRIED));
        assert!(answered.as_ref().is_ok_and(|answered| answered == expected), "{answered:?}");
    }

    fn code(record: &Value) -> Option<&'static str> {
        match answer(record, TRIED).result {
            Outcome::Error(refusal) => Some(refusal.code),
            Outcome::Outputs(_) => None,
        }
    }

    #[test]
    fn a_record_is_answered_under_its_own_id_and_topic() {
        check(
            &json!({"id": "one", "topic": "test/echo", "inputs": {"shots": 3}}),
            &json!({"id": "one", "topic": "test/echo", "outputs": {"shots": 3}}),
        );
        check(
            &json!({"id": 7, "topic": "test/echo"}),
            &json!({"id": 7, "topic": "test/echo", "outputs": {}}),
        );
    }

    #[test]
    fn what_is_not_a_record_is_refused_with_what_is_known_of_it() {
        check(
            &json!({"topic": "test/echo", "inputs": {}}),
            &json!({"id": null, "topic": "test/echo", "error": {
                "code": "invalid_record", "detail": "`id` must be a string or a number"}}),
        );
        for record in [json!(null), json!([]), json!("id"), json!({}), json!({"id": "one"})] {
            assert_eq!(code(&record), Some("invalid_record"), "{record}");
        }
    }

    #[test]
    fn a_defect_in_one_topic_is_an_error_of_its_record_only() {
        assert_eq!(code(&json!({"id": 1, "topic": "test/defective"})), Some("internal"));
        assert_eq!(code(&json!({"id": 2, "topic": "test/echo"})), None);
    }

    #[test]
    fn no_topic_is_listed_twice() {
        assert!(TOPICS.is_sorted_by(|(one, _), (next, _)| one < next));
    }

    #[test]
    fn a_full_disk_is_reported_and_not_the_callers_fault() {
        let written = run(&b"[1]"[..], &mut [0_u8; 4][..]);
        assert!(matches!(&written, Err(error @ ReckonError::Write(_)) if error.exit_code() == 1));
    }
}
