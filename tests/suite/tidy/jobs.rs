//! Registration of jobs: a job that is not in the list never runs, and nothing else would say so.

use super::source::{blank_rust, closing, words};
use super::{read, root};

/// Jobs, named by their files, that the brackets of `ALL` do not mention.
fn unlisted_jobs(list: &str, stems: &[String]) -> Vec<String> {
    let code = blank_rust(list);
    let inside = words(&code, "ALL")
        .into_iter()
        .find(|at| code[..*at].trim_end().ends_with("const"))
        .and_then(|at| Some(at + code[at..].find('=')?))
        .and_then(|at| Some(at + code[at..].find('[')?))
        .and_then(|open| Some(&code[open..=closing(&code, open)?]));
    let Some(inside) = inside else {
        return vec!["there is no `const ALL: … = &[…]`".to_owned()];
    };
    stems
        .iter()
        .filter(|stem| words(inside, &format!("{stem}::")).is_empty())
        .map(|stem| format!("{stem} is not in ALL, so it never runs"))
        .collect()
}

/// What a folder of jobs holds: one a file, or a folder where a job is too long for one.
fn job_stems(names: impl Iterator<Item = String>) -> Vec<String> {
    let mut stems: Vec<_> = names
        .filter(|name| name != "mod.rs" && !name.starts_with('.'))
        .map(|name| name.strip_suffix(".rs").unwrap_or(&name).to_owned())
        .collect();
    stems.sort();
    stems.dedup();
    stems
}

#[test]
fn every_job_in_the_folder_is_registered() {
    let folder = "worker/src/jobs";
    let entries = std::fs::read_dir(root().join(folder))
        .unwrap_or_else(|error| panic!("{folder}: {error}: name its successor here"));
    let names = entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    let stems = job_stems(names);
    assert!(!stems.is_empty(), "{folder} holds no job");
    super::none(&unlisted_jobs(&read("worker/src/jobs/mod.rs"), &stems));
}

#[test]
fn a_planted_job_that_is_not_registered_is_caught() {
    let stems = job_stems(
        ["mod.rs", "sweep.rs", "deliver_mail.rs", "deliver_mail"].map(str::to_owned).into_iter(),
    );
    assert_eq!(stems, ["deliver_mail", "sweep"]);
    let check = |list: &str, expected: &[&str]| {
        assert_eq!(unlisted_jobs(list, &stems), expected, "{list}");
    };
    let missing = &["sweep is not in ALL, so it never runs"];
    check("pub const ALL: &[Job] = &[Job { run: deliver_mail::run, x: [1] }, sweep::JOB];", &[]);
    check(
        "mod sweep;\npub const ALL: &[Job] = &[deliver_mail::JOB];\nfn f() { sweep::run() }",
        missing,
    );
    check("const ALL: [&Job; 2] = [&deliver_mail::JOB, &resweep::JOB];", missing);
    check("const ALL: &[Job] = &[\n    deliver_mail::JOB,\n    // sweep::JOB,\n];", missing);
    check("fn all() {}", &["there is no `const ALL: … = &[…]`"]);
}
