//! Settings that are taken, and those that are refused by name.

use super::*;

fn read(flags: &Flags, environment: &[(&str, &str)]) -> Result<Settings, String> {
    let owned: Vec<(String, String)> =
        environment.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
    Settings::read(flags, &owned).map_err(|error| error.to_string())
}

fn check_refused(environment: &[(&str, &str)], words: &str) {
    match read(&Flags::default(), environment) {
        Err(error) => assert!(error.contains(words), "{error}"),
        Ok(settings) => panic!("{environment:?} was taken: {settings:?}"),
    }
}

#[test]
fn a_flag_beats_the_environment_beats_the_default() {
    let plain = read(&Flags::default(), &[]).unwrap();
    assert_eq!(plain.listen.port(), 8_484);
    assert_eq!(plain.base_url, "http://127.0.0.1:8484");
    assert_eq!((plain.mail_per_minute, &plain.mail_return_path), (60, &None));
    let listen = [(LISTEN, "127.0.0.1:9000"), (BASE_URL, "https://club.example/")];
    let set = read(&Flags::default(), &listen).unwrap();
    assert_eq!((set.listen.port(), set.base_url.as_str()), (9_000, "https://club.example"));
    let flags = Flags { listen: Some("127.0.0.1:9001".to_owned()), ..Flags::default() };
    assert_eq!(read(&flags, &listen).unwrap().listen.port(), 9_001);
}

#[test]
fn a_setting_that_cannot_be_used_is_named() {
    check_refused(&[("TAUTLINE_DATABSE_URL", "x")], "TAUTLINE_DATABSE_URL: no such setting");
    check_refused(&[(DATABASE_URL, "club.db")], "TAUTLINE_DATABASE_URL: must begin with sqlite://");
    check_refused(&[(LISTEN, "nowhere")], "TAUTLINE_LISTEN: ");
    check_refused(&[(BASE_URL, "club.example")], "TAUTLINE_BASE_URL: ");
    check_refused(&[(BASE_URL, "http://")], "TAUTLINE_BASE_URL: ");
    check_refused(&[(SMTP_URL, "smtp://localhost")], "TAUTLINE_MAIL_FROM: must be set");
    check_refused(&[(MAIL_FROM, "nobody")], "TAUTLINE_MAIL_FROM: ");
    check_refused(&[(MAIL_LEASE_S, "0")], "TAUTLINE_MAIL_LEASE_S: ");
    for pace in ["0", "10001", "-1", "many", "1.5"] {
        check_refused(&[(MAIL_PER_MINUTE, pace)], "TAUTLINE_MAIL_PER_MINUTE: must be a number");
    }
    check_refused(&[(MAIL_RETURN_PATH, "<>")], "TAUTLINE_MAIL_RETURN_PATH: ");
    for token in ["short", "with a blank within", "line\nbreak-line-break"] {
        check_refused(&[(METRICS_TOKEN, token)], "TAUTLINE_METRICS_TOKEN: must be 16");
    }
    check_refused(&[(SECRET, "a"), (SECRET_FILE, "b")], "TAUTLINE_SECRET: ");
}

#[test]
fn an_empty_variable_is_not_set_and_a_secret_is_never_shown() {
    let set = [
        (LISTEN, ""),
        (SECRET, "open sesame"),
        (SECRET_PREVIOUS, "old sesame"),
        (METRICS_TOKEN, "a-very-open-sesame"),
    ];
    let settings = read(&Flags::default(), &set).unwrap();
    assert_eq!(settings.listen.port(), 8_484);
    assert_eq!(settings.secret_previous, Some(Previous(b"old sesame".to_vec())));
    assert!(!format!("{settings:?}").contains("sesame"));
}
