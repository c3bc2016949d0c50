//! What the README says is what happens: its commands are run, its output is compared.

use std::{
    path::Path,
    process::{Command, Output},
};

use serde_json::Value;

use crate::{
    program::{SECRET, serving, setting},
    support::{Program, Scratch, on_both},
};

fn readme() -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap()
}

/// The fenced blocks of a language in a part of the README.
fn blocks(text: &str, language: &str) -> Vec<String> {
    let fence = format!("```{language}\n");
    let parts = text.split(&fence).skip(1);
    parts.map(|part| part.split("```").next().unwrap().to_owned()).collect()
}

/// What stands between two headings.
fn section(heading: &str) -> String {
    let readme = readme();
    let (_, after) = readme.split_once(&format!("## {heading}\n")).unwrap();
    after.split("\n## ").next().unwrap().to_owned()
}

#[test]
fn the_demo_prints_what_the_readme_shows() {
    let two_commands = section("Two commands");
    let commands = blocks(&two_commands, "sh");
    assert_eq!(commands[0], "cargo run --release -- demo --once --today 2027-03-14\n");
    assert_eq!(commands[1], "tests/run\n");
    let folder = Scratch::new();
    let arguments = ["demo", "--once", "--today", "2027-03-14"];
    let finished = Program::run(folder.path(), &[], &arguments);
    assert_eq!(finished.code, Some(0), "{finished:?}");
    assert_eq!(blocks(&two_commands, "text")[0].trim_end(), finished.stdout.trim_end());
}

/// Runs the README's lines against a server, as somebody would who pastes them into a shell.
fn paste(folder: &Path, base: &str, database: &str, code: &str) -> Output {
    let path = section("From an empty database to a mail");
    let lines: String =
        blocks(&path, "sh").into_iter().filter(|block| block != "tautline serve\n").collect();
    assert!(lines.contains("http://127.0.0.1:8484") && lines.contains("paste-the-code-here"));
    let lines = lines.replace("http://127.0.0.1:8484", base).replace("paste-the-code-here", code);
    let program = Path::new(env!("CARGO_BIN_EXE_tautline"));
    Command::new("bash")
        .args(["-e", "-o", "pipefail", "-c", &lines])
        .current_dir(folder)
        .env_clear()
        .env("PATH", format!("{}:/usr/bin:/bin", program.parent().unwrap().display()))
        .env("TAUTLINE_DATABASE_URL", database)
        .env("TAUTLINE_SECRET", SECRET)
        .output()
        .unwrap()
}

#[test]
fn the_readmes_lines_go_from_an_empty_database_to_a_reminder() {
    let answers = on_both(|database| {
        let folder = Scratch::new();
        let url = setting(database);
        let (program, base) = serving(folder.path(), &url);
        let line = program.stdout().wait_for("There is no club yet.");
        let output = paste(folder.path(), &base, &url, line.rsplit(' ').next().unwrap());
        let (stdout, stderr) =
            (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
        assert!(output.status.success(), "{stdout}\n{stderr}");
        let lines = stdout.lines().filter(|line| line.starts_with('{'));
        let answers: Vec<Value> = lines.map(|line| serde_json::from_str(line).unwrap()).collect();
        program.terminate();
        answers
    });
    for answers in &answers {
        let logged: Vec<&Value> =
            answers.iter().filter(|answer| !answer["shot_log"].is_null()).collect();
        assert_eq!(logged.len(), 2);
        assert_eq!(logged[0], logged[1], "a log sent twice counts once");
        assert_eq!(logged[0]["parts"][0]["wear"]["shots"], 472);
        let reminders = answers.iter().find(|answer| !answer["data"][0]["stage"].is_null());
        assert_eq!(reminders.unwrap()["data"][0]["state"], "raised");
        let upkeep = answers.last().unwrap();
        assert_eq!(upkeep["part"]["wear"]["shots"], 580);
        assert_eq!(upkeep["part"]["condition"], "sound");
    }
    let [sqlite, postgres] = answers.map(|answers| answers.iter().map(shape).collect::<Vec<_>>());
    assert_eq!(sqlite, postgres);
}

/// An answer without what differs from run to run: ids and the times of now.
fn shape(answer: &Value) -> Value {
    match answer {
        Value::Object(fields) => {
            let kept = fields.iter().filter(|(name, _)| {
                let name = name.as_str();
                let of_now =
                    ["at", "created_at", "received_at", "raised_at", "set_at"].contains(&name);
                !(of_now || name == "id" || name.ends_with("_id"))
            });
            kept.map(|(name, value)| (name.clone(), shape(value))).collect()
        }
        Value::Array(values) => values.iter().map(shape).collect(),
        other => other.clone(),
    }
}
