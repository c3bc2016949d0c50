//! The same file sent twice at once: one of them is written, and the other finds that it was.

use std::fmt::Write;

use super::{export, rows, send};
use crate::support::{Club, on_both};

fn files() -> [(&'static str, String); 3] {
    let mut parts = "kind,name,made_on\n".to_owned();
    let mut bows = "name,division,bow_length_in,draw_weight_lbf\n".to_owned();
    let mut people = "email,name,role\n".to_owned();
    for n in 0..200 {
        writeln!(parts, "string,String {n},2027-01-02").unwrap();
        writeln!(bows, "Bow {n},recurve,68,30").unwrap();
        writeln!(people, "somebody.{n}@club.example,Somebody {n},archer").unwrap();
    }
    [("parts", parts), ("bows", bows), ("members", people)]
}

#[test]
fn the_same_file_twice_at_once_is_written_once() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        // So that neither has to sign in first.
        owner.get("/me").expect(200);
        for (table, file) in files() {
            let query = format!("table={table}&dry_run=false");
            let before = export(owner, table).lines().count();
            let answers = std::thread::scope(|scope| {
                let sent = [(); 2].map(|()| scope.spawn(|| send(owner, &query, &file)));
                sent.map(|one| one.join().unwrap())
            });
            let mut told = answers.map(|answer| rows(&answer.expect(200)));
            told.sort_unstable();
            assert_eq!(told, [[200, 0, 200, 0], [200, 200, 0, 0]], "{table}");
            assert_eq!(export(owner, table).lines().count(), before + 200, "{table}");
        }
    });
}
