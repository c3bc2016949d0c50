//! The same from the command line, on the database itself.

use crate::{
    program::{SECRET, setting},
    support::{Club, Kit, Program, Scratch, on_both},
};

#[test]
fn a_file_is_shown_then_written_then_exported() {
    on_both(|database| {
        let club = Club::start_at(database, "2026-03-01T09:00:00Z".parse().unwrap(), None);
        Kit::of(&club, club.owner(), None);
        drop(club);
        let (folder, url) = (Scratch::new(), setting(database));
        let settings = [("TAUTLINE_DATABASE_URL", url.as_str()), ("TAUTLINE_SECRET", SECRET)];
        let run = |arguments: &[&str]| Program::run(folder.path(), &settings, arguments);
        let file = folder.path().join("log.csv");
        std::fs::write(&file, "bow;date;arrows;weather\nGrey recurve;3/4/2026;60\n").unwrap();
        run(&["import", "shot_logs", "log.csv"]).refuses(&["line 2", "day_first or month_first"]);
        std::fs::write(&file, "bow;date;arrows\nGrey recurve;3/4/2026;60\n").unwrap();
        let shown = run(&["import", "shot_logs", "log.csv", "--dates", "day_first"]);
        assert_eq!(shown.code, Some(0), "{shown:?}");
        for words in ["semicolon", "\"arrows\" is shots", "1 rows: 1 new", "nothing was written"] {
            assert!(shown.stdout.contains(words), "{words}: {shown:?}");
        }
        let arguments = ["import", "shot_logs", "log.csv", "--dates", "day_first", "--write"];
        let written = run(&arguments);
        assert!(written.stdout.ends_with("written\n"), "{written:?}");
        assert!(run(&arguments).stdout.contains("1 rows: 0 new, 1 already there"));
        assert_eq!(run(&["export", "shot_logs", "--out", "out.csv"]).code, Some(0));
        let exported = std::fs::read_to_string(folder.path().join("out.csv")).unwrap();
        assert!(exported.contains(",2026-04-03,60,practice,"), "{exported}");

        std::fs::write(&file, "bow;date;arrows\nGrey recurve;2026-04-04;0\n").unwrap();
        let refused = run(&["import", "shot_logs", "log.csv", "--write"]);
        refused.refuses(&["nothing was written"]);
        assert!(refused.stdout.contains("line 2, arrows: \"0\": must be at least 1"));
        assert_eq!(run(&["export", "targets"]).code, Some(2));
        run(&["export", "bows", "--club", "Elsewhere"]).refuses(&["no club is called Elsewhere"]);
    });
}
