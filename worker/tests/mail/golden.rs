//! Letters compared, word for word, with files that a person has read. `UPDATE_GOLDEN=1` writes them
//! anew.

use std::{env, fs, path::PathBuf};

use worker::mail::Letter;

fn check(file: &str, actual: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(file);
    #[expect(clippy::disallowed_methods, reason = "a test's own setting, not the program's")]
    let update = env::var_os("UPDATE_GOLDEN").is_some();
    if update {
        fs::write(&path, actual).unwrap();
    }
    let expected = fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(actual, expected, "{file} differs; UPDATE_GOLDEN=1 writes it anew");
}

pub(crate) fn check_letter(called: &str, letter: &Letter) {
    check(&format!("{called}.subject.txt"), &letter.subject);
    check(&format!("{called}.txt"), &letter.text);
    check(&format!("{called}.html"), &letter.html);
}
