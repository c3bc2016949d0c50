//! `tautline reckon`, run as a user runs it: over the conformance records, and over input that
//! deserves a refusal. Knows the wire form only.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::{Value, json};

/// Runs the program with the given text on standard input.
fn run(input: &[u8]) -> Output {
    let child = Command::new(env!("CARGO_BIN_EXE_tautline"))
        .arg("reckon")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn();
    let Ok(mut child) = child else { panic!("the program does not start: {child:?}") };
    let Some(mut stdin) = child.stdin.take() else { panic!("no standard input") };
    // The program reads everything before it writes anything, so this cannot block.
    assert!(stdin.write_all(input).is_ok(), "the program closed its input");
    drop(stdin);
    match child.wait_with_output() {
        Ok(output) => output,
        Err(error) => panic!("{error}"),
    }
}

/// The answers to a batch that must succeed as a whole.
fn answers(input: &[u8]) -> Vec<Value> {
    let output = run(input);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    match serde_json::from_slice(&output.stdout) {
        Ok(Value::Array(answers)) => answers,
        other => panic!("no array of answers: {other:?}"),
    }
}

fn ask(records: &Value) -> Vec<Value> {
    answers(records.to_string().as_bytes())
}

/// The value at a JSON pointer (RFC 6901), null where there is none.
fn at<'a>(value: &'a Value, pointer: &str) -> &'a Value {
    value.pointer(pointer).unwrap_or(&Value::Null)
}

fn set(inputs: &mut Value, key: &str, value: Value) {
    let known = inputs.get_mut(key);
    let Some(known) = known else { panic!("{key} is no input") };
    *known = value;
}

/// Asks one topic and checks that it refuses with this code and a detail that says `named`.
fn check_refused(topic: &str, inputs: &Value, code: &str, named: &str) {
    let answered = ask(&json!([{"id": "bad", "topic": topic, "inputs": inputs}]));
    let [answer] = answered.as_slice() else { panic!("{answered:?}") };
    check_error(answer, code, named);
    assert_eq!(at(answer, "/id"), &json!("bad"));
    assert_eq!(at(answer, "/topic"), topic);
}

fn check_error(answer: &Value, code: &str, named: &str) {
    assert_eq!(at(answer, "/error/code"), code, "{answer}");
    let detail = at(answer, "/error/detail").as_str().unwrap_or_default();
    assert!(detail.contains(named), "{answer} does not name {named}");
    assert!(answer.get("outputs").is_none(), "{answer}");
}

// --- conformance -------------------------------------------------------------------------------

#[test]
fn every_conformance_record_is_met_within_its_tolerance() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/conformance");
    let mut failures = Vec::new();
    let mut checked = 0;
    for path in json_files(&folder) {
        let records = read_records(&path);
        let answered = ask(&Value::Array(records.clone()));
        assert_eq!(answered.len(), records.len(), "{}", path.display());
        for (record, answer) in records.iter().zip(&answered) {
            checked += 1;
            assert_eq!(at(answer, "/id"), at(record, "/id"));
            let place = format!("{} {}", at(record, "/topic"), at(record, "/id"));
            match answer.get("outputs") {
                Some(found) => {
                    compare(found, at(record, "/expected"), record, "", &place, &mut failures);
                }
                None => failures.push(format!("{place}: {}", at(answer, "/error"))),
            }
        }
    }
    assert!(checked > 0, "no records in {}", folder.display());
    assert!(
        failures.is_empty(),
        "{} of {checked} failed:\n{}",
        failures.len(),
        failures.join("\n")
    );
}

fn json_files(folder: &Path) -> Vec<std::path::PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { panic!("no {}", folder.display()) };
    let mut files: Vec<_> = entries.flatten().map(|entry| entry.path()).collect();
    files.retain(|path| path.extension().is_some_and(|extension| extension == "json"));
    files.sort();
    files
}

fn read_records(path: &Path) -> Vec<Value> {
    match std::fs::read(path).map(|bytes| serde_json::from_slice(&bytes)) {
        Ok(Ok(Value::Array(records))) => records,
        other => panic!("{}: {other:?}", path.display()),
    }
}

/// Notes where `found` misses `expected`; keys beyond the expected ones are welcome.
fn compare(
    found: &Value,
    expected: &Value,
    record: &Value,
    key: &str,
    place: &str,
    failures: &mut Vec<String>,
) {
    let miss = || format!("{place}: expected {expected}, found {found}");
    match (found, expected) {
        (Value::Object(found), Value::Object(expected)) => {
            for (key, expected) in expected {
                let place = format!("{place}/{key}");
                match found.get(key) {
                    Some(found) => compare(found, expected, record, key, &place, failures),
                    None => failures.push(format!("{place}: missing")),
                }
            }
        }
        (Value::Array(found), Value::Array(expected)) if found.len() == expected.len() => {
            for (index, (found, expected)) in found.iter().zip(expected).enumerate() {
                compare(found, expected, record, key, &format!("{place}/{index}"), failures);
            }
        }
        (Value::Number(a), Value::Number(e)) => match (a.as_f64(), e.as_f64()) {
            (Some(a), Some(e)) if near(a, e, tolerance(record, key)) => {}
            _ => failures.push(miss()),
        },
        (found, expected) if found == expected => {}
        _ => failures.push(miss()),
    }
}

/// The tolerance of one key: that of the pattern in `fields` which matches it, else the record's
/// own.
fn tolerance<'a>(record: &'a Value, key: &str) -> &'a Value {
    let own = at(record, "/tolerance");
    let mut matching = at(own, "/fields")
        .as_object()
        .into_iter()
        .flatten()
        .filter(|(pattern, _)| matches(pattern, key))
        .map(|(_, tolerance)| tolerance);
    let found = matching.next().unwrap_or(own);
    assert!(matching.next().is_none(), "two patterns match {key}");
    found
}

/// A pattern is a key, or the end of one after a star.
fn matches(pattern: &str, key: &str) -> bool {
    let end = pattern.strip_prefix('*');
    assert!(!end.unwrap_or(pattern).contains(['*', '?', '[']), "{pattern} is not understood here");
    end.map_or(pattern == key, |end| key.ends_with(end))
}

fn near(a: f64, e: f64, tolerance: &Value) -> bool {
    if at(tolerance, "/exact") == &json!(true) {
        return a.total_cmp(&e).is_eq();
    }
    let bound = |name: &str| tolerance.get(name).and_then(Value::as_f64).unwrap_or(0.0);
    (a - e).abs() <= bound("abs") + bound("rel") * e.abs()
}

#[test]
fn the_comparison_itself_can_fail() {
    let record =
        json!({"tolerance": {"rel": 0.01, "fields": {"*_p": {"abs": 0.5}, "n": {"exact": true}}}});
    let missed = |found: Value, expected: Value| {
        let mut failures = Vec::new();
        compare(&found, &expected, &record, "", "", &mut failures);
        failures.len()
    };
    assert_eq!(missed(json!({"mean": 100.9, "extra": 1}), json!({"mean": 100})), 0);
    assert_eq!(missed(json!({"mean": 101.1}), json!({"mean": 100})), 1);
    assert_eq!(missed(json!({"welch_p": 0.4}), json!({"welch_p": 0.8})), 0);
    assert_eq!(missed(json!({"welch_p": 0.2}), json!({"welch_p": 0.8})), 1);
    assert_eq!(missed(json!({"n": 3.0}), json!({"n": 3})), 0);
    assert_eq!(missed(json!({"n": 3.000_1}), json!({"n": 3})), 1);
    assert_eq!(missed(json!({"pair": [1, 2]}), json!({"pair": [1, 2, 3]})), 1);
    assert_eq!(missed(json!({"median": 0}), json!({"median": null})), 1);
    assert_eq!(missed(json!({}), json!({"mean": 1})), 1);
}

// --- answers beyond the records ----------------------------------------------------------------

/// World Archery rule book, book 2, ch. 7: ten zones of equal width. Line widths from memory.
#[test]
fn the_other_standard_faces_follow_the_same_rule() {
    for (diameter_mm, ten_mm, line_mm) in [(800, 80.0, 2), (600, 60.0, 1)] {
        let answered = ask(&json!([{"id": 1, "topic": "trade/target_face",
            "inputs": {"face_diameter_mm": diameter_mm}}]));
        let found = answered.first().map(|answer| at(answer, "/outputs"));
        assert_eq!(found.map(|found| at(found, "/zone_diameter_mm/10")), Some(&json!(ten_mm)));
        assert_eq!(found.map(|found| at(found, "/zone_width_mm")), Some(&json!(ten_mm / 2.0)));
        assert_eq!(found.map(|found| at(found, "/max_line_width_mm")), Some(&json!(line_mm)));
    }
}

/// World Archery rule book, book 2, ch. 4; from memory.
#[test]
fn the_other_rounds_are_known_however_they_are_written() {
    for (name, arrows, face_cm, max_score) in [
        ("25 M INDOOR ROUND", 60, json!(60), 600),
        ("50m round", 72, json!(80), 720),
        ("50 m compound round", 72, json!(80), 720),
        ("1440 Round", 144, json!(null), 1440),
    ] {
        let answered = ask(&json!([{"id": 1, "topic": "trade/round", "inputs": {"round": name}}]));
        let found = answered.first().map(|answer| at(answer, "/outputs"));
        assert_eq!(found.map(|found| at(found, "/arrows")), Some(&json!(arrows)), "{name}");
        assert_eq!(found.map(|found| at(found, "/face_cm")), Some(&face_cm), "{name}");
        assert_eq!(found.map(|found| at(found, "/max_score")), Some(&json!(max_score)), "{name}");
    }
}

// --- refusals ----------------------------------------------------------------------------------

#[test]
fn an_unknown_topic_is_refused_by_name() {
    check_refused("trade/horoscope", &json!({}), "unknown_topic", "trade/horoscope");
    check_refused("", &json!({}), "unknown_topic", "\"\"");
}

#[test]
fn a_missing_input_is_named() {
    check_refused("trade/round", &json!({}), "missing_input", "`round`");
    let no_new = json!({"old_ft_s": 193, "readings_each": 5});
    check_refused("trade/speed_loss", &no_new, "missing_input", "`new_ft_s`");
}

#[test]
fn an_unknown_input_is_named() {
    check_refused("units/exact", &json!({"exactly": true}), "unknown_input", "`exactly`");
    let cm = json!({"face_diameter_mm": 1220, "face_cm": 122});
    check_refused("trade/target_face", &cm, "unknown_input", "`face_cm`");
}

#[test]
fn an_input_of_the_wrong_type_is_named() {
    for wrong in [json!("1220"), json!(null), json!(true), json!([1220]), json!({"mm": 1220})] {
        let inputs = json!({ "face_diameter_mm": wrong });
        check_refused("trade/target_face", &inputs, "wrong_type", "face_diameter_mm:");
    }
    check_refused("trade/round", &json!({"round": 70}), "wrong_type", "round:");
}

#[test]
fn an_impossible_number_is_named() {
    for diameter_mm in [0.0, -1220.0, 1e300, 5e-324] {
        let inputs = json!({ "face_diameter_mm": diameter_mm });
        check_refused("trade/target_face", &inputs, "out_of_range", "face_diameter_mm");
    }
    let event = |key: &str, value: Value| {
        let mut inputs = json!({"settle_in_shots": 200, "sight_in_shots": 72,
            "mean_shots_per_week": 360, "sessions_per_week": 3});
        set(&mut inputs, key, value);
        check_refused("trade/event_window", &inputs, "out_of_range", key);
    };
    event("settle_in_shots", json!(-1));
    event("sight_in_shots", json!(72.5));
    event("mean_shots_per_week", json!(0));
    event("mean_shots_per_week", json!(1e-300));
    event("sessions_per_week", json!(-3));
    let speed = |key: &str, value: Value| {
        let mut inputs = json!({"old_ft_s": 193, "new_ft_s": 197, "readings_each": 5});
        set(&mut inputs, key, value);
        check_refused("trade/speed_loss", &inputs, "out_of_range", key);
    };
    speed("old_ft_s", json!(-193));
    speed("new_ft_s", json!(0));
    speed("new_ft_s", json!(1e308));
    speed("readings_each", json!(0));
}

#[test]
fn an_unknown_round_is_answered_with_the_known_ones() {
    check_refused("trade/round", &json!({"round": "71 m"}), "unknown_name", "18 m indoor round");
}

#[test]
fn a_record_that_is_none_is_refused_and_the_others_still_answer() {
    let batch = json!([
        null, 5, "trade/round", [], {}, {"id": "no topic"}, {"topic": "units/exact"},
        {"id": ["nested"], "topic": {"nonsense": [[]]}, "inputs": 3},
        {"id": "list", "topic": "trade/round", "inputs": ["70 m round"]},
        {"id": "good", "topic": "units/exact", "inputs": {}},
    ]);
    let answered = ask(&batch);
    assert_eq!(answered.len(), 10);
    let Some((good, bad)) = answered.split_last() else { panic!("no answers") };
    for answer in bad {
        check_error(answer, "invalid_record", "must be");
    }
    assert_eq!(bad.first().map(|answer| at(answer, "/id")), Some(&Value::Null));
    assert_eq!(bad.get(5).map(|answer| at(answer, "/id")), Some(&json!("no topic")));
    assert_eq!(bad.get(6).map(|answer| at(answer, "/topic")), Some(&json!("units/exact")));
    assert_eq!(at(good, "/outputs/inch_in_mm"), 25.4);
}

#[test]
fn a_number_that_is_not_finite_spoils_only_its_record() {
    for wrong in ["NaN", "Infinity", "-Infinity", "1e999"] {
        let batch = format!(
            r#"[{{"id":"a","topic":"trade/target_face","inputs":{{"face_diameter_mm":{wrong}}}}},
                {{"id":"b","topic":"units/exact","inputs":{{}}}}]"#
        );
        let answered = answers(batch.as_bytes());
        let [bad, good] = answered.as_slice() else { panic!("{answered:?}") };
        check_error(bad, "wrong_type", "face_diameter_mm");
        assert_eq!((at(bad, "/id"), at(good, "/outputs/inch_in_mm")), (&json!("a"), &json!(25.4)));
    }
}

#[test]
fn a_record_nested_beyond_reason_spoils_only_itself() {
    let batch = format!(
        r#"[{}{}, {{"id":"b","topic":"units/exact"}}]"#,
        "[".repeat(100_000),
        "]".repeat(100_000)
    );
    let answered = answers(batch.as_bytes());
    let [bad, good] = answered.as_slice() else { panic!("{answered:?}") };
    check_error(bad, "invalid_record", "must be");
    assert_eq!(at(good, "/outputs/inch_in_mm"), 25.4);
}

#[test]
fn an_empty_array_has_an_empty_answer() {
    assert_eq!(ask(&json!([])), Vec::<Value>::new());
}

#[test]
fn input_that_is_no_json_array_is_an_exit_code_of_2_and_a_message() {
    for input in ["", "{}", "null", "\"[]\"", "[1,", "[1] [2]", "[nope]", "\u{feff}["] {
        let output = run(input.as_bytes());
        assert_eq!(output.status.code(), Some(2), "{input}");
        assert!(output.stdout.is_empty(), "{input}");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(said.contains("JSON array"), "{input}: {said}");
    }
    assert_eq!(run(&[b'[', 0xff, b']']).status.code(), Some(2));
}
