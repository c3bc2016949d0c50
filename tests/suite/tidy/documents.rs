//! Every path that DEVELOPERS.md names exists.

use super::{files_under, read, root};

const ENDINGS: &[&str] = &[".rs", ".toml", ".md", ".json"];
/// Media types have a slash too.
const MEDIA: &[&str] = &["application/", "audio/", "image/", "message/", "multipart/", "text/"];

/// Inline code spans, with their lines; fenced blocks hold commands and drawings, not names.
fn code_spans(text: &str) -> Vec<(usize, &str)> {
    let mut spans = Vec::new();
    let mut fenced = false;
    for (number, line) in text.lines().enumerate() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
        } else if !fenced {
            spans.extend(line.split('`').skip(1).step_by(2).map(|span| (number + 1, span)));
        }
    }
    spans
}

fn looks_like_a_path(span: &str) -> bool {
    let is_placeholder = span.contains(|letter: char| "{}<>*$…".contains(letter));
    let is_address = span.starts_with('/') || span.contains("://");
    let is_media = MEDIA.iter().any(|media| span.starts_with(media));
    let is_shaped = span.contains('/') || ENDINGS.iter().any(|ending| span.ends_with(ending));
    is_shaped && !is_placeholder && !is_address && !is_media && !span.contains(' ')
}

fn missing_paths(text: &str, exists: impl Fn(&str) -> bool) -> Vec<String> {
    code_spans(text)
        .into_iter()
        .filter(|(_, span)| looks_like_a_path(span) && !exists(span))
        .map(|(line, span)| format!("DEVELOPERS.md:{line}: `{span}` does not exist"))
        .collect()
}

/// A path from the repository's folder; a bare file name may lie anywhere; and the topics of
/// `tautline reckon` are written like paths, so one must stand in its source.
fn is_in_the_repository(span: &str, files: &[String], reckon: &str) -> bool {
    let anywhere = |span: &str| files.iter().any(|file| file.rsplit('/').next() == Some(span));
    root().join(span).exists()
        || !span.contains('/') && anywhere(span)
        || reckon.contains(&format!("\"{span}\""))
}

#[test]
fn every_path_in_the_developers_document_exists() {
    let files = files_under(".");
    let of_reckon = files.iter().filter(|file| file.starts_with("src/reckon"));
    let reckon: String = of_reckon.map(|file| read(file)).collect();
    let text = read("DEVELOPERS.md");
    let paths = code_spans(&text).into_iter().filter(|(_, span)| looks_like_a_path(span)).count();
    assert!(paths >= 10, "only {paths} paths found: is the document still read rightly?");
    super::none(&missing_paths(&text, |span| is_in_the_repository(span, &files, &reckon)));
}

#[test]
fn a_planted_path_that_is_gone_is_caught() {
    let files = ["api/src/routes.rs".to_owned()];
    let exists = |span: &str| is_in_the_repository(span, &files, "(\"forecast/when\", when)");
    let check = |text: &str, expected: &[&str]| {
        assert_eq!(missing_paths(text, exists), expected, "{text}");
    };
    check("See `store/src/gone.rs`.", &["DEVELOPERS.md:1: `store/src/gone.rs` does not exist"]);
    check("a\n`Cargo.toml`, `nowhere/`", &["DEVELOPERS.md:2: `nowhere/` does not exist"]);
    check("`gone.md`", &["DEVELOPERS.md:1: `gone.md` does not exist"]);
    check("`forecast/never`", &["DEVELOPERS.md:1: `forecast/never` does not exist"]);
    check("`forecast/when`, `routes.rs`, `tests/suite/main.rs`, `tests/`", &[]);
    check("`/api/v1/bows`, `sqlite://x`, `a/<name>.rs`, `cargo test a/b`, `text/html`, `Tx`", &[]);
    check("```\nold/thing.rs `old/thing.rs`\n```\n", &[]);
}
