//! Files as they come from other programs, other countries and bad lines: each is read for what it is, or
//! refused with line, column and why. A line of the table is a file and its exact answer.

use std::{
    io::{Read, Write},
    net::{Shutdown, TcpStream},
};

use serde_json::json;

use super::{export, rows, send};
use crate::support::{Answer, Club, Kit, Person, on_both};

/// What a file comes to.
enum Answered {
    /// So many rows are new, and the export holds this.
    Read(u64, &'static str),
    /// 422, with these pointers and codes.
    Refused(&'static [(&'static str, &'static str)]),
    /// Another status, and words of its advice.
    Told(u16, &'static str),
}
use Answered::{Read as Reads, Refused, Told};

struct Fault {
    name: &'static str,
    /// What the query has besides the table.
    query: &'static str,
    file: Vec<u8>,
    answered: Answered,
}

fn fault(name: &'static str, file: impl AsRef<[u8]>, answered: Answered) -> Fault {
    Fault { name, query: "", file: file.as_ref().to_vec(), answered }
}

fn utf16(text: &str, mark: bool, unit: fn(u16) -> [u8; 2]) -> Vec<u8> {
    let mark = if mark { "\u{FEFF}" } else { "" };
    format!("{mark}{text}").encode_utf16().flat_map(unit).collect()
}

fn latin(text: &str) -> Vec<u8> {
    text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect()
}

const PLAIN: &str = "bow,at,shots,note\nGrey recurve,2027-02-28,30,Zoé\n";
const ZOE: Answered = Reads(1, ",30,practice,Zoé,");

/// How the file was written.
fn writing() -> Vec<Fault> {
    let ends = |end: &str| PLAIN.replace('\n', end);
    vec![
        fault("a byte order mark", format!("\u{FEFF}{PLAIN}"), ZOE),
        fault("CR LF", ends("\r\n"), ZOE),
        fault("LF", PLAIN, ZOE),
        fault("lone CR", ends("\r"), ZOE),
        fault("semicolons", PLAIN.replace(',', ";"), ZOE),
        fault("tabs", PLAIN.replace(',', "\t"), ZOE),
        fault("UTF-16, little end first, marked", utf16(PLAIN, true, u16::to_le_bytes), ZOE),
        fault("UTF-16, big end first, marked", utf16(PLAIN, true, u16::to_be_bytes), ZOE),
        fault("UTF-16, little end first", utf16(PLAIN, false, u16::to_le_bytes), ZOE),
        fault("UTF-16, big end first", utf16(PLAIN, false, u16::to_be_bytes), ZOE),
        fault("Windows-1252", latin(PLAIN), ZOE),
        fault(
            "a letter that is not UTF-8 among those that are",
            [PLAIN.as_bytes(), b"Grey recurve,2027-02-28,9,\xE9\n"].concat(),
            Refused(&[("/lines/3", "bad_encoding")]),
        ),
        fault(
            "formula cells",
            "bow,at,shots,note\nGrey recurve,2027-02-28,30,'=1+1\n",
            Reads(1, ",30,practice,'=1+1,"),
        ),
        fault(
            "formula cells without a guard",
            "bow,at,shots,note\nGrey recurve,2027-02-28,30,@home\n",
            Reads(1, ",30,practice,'@home,"),
        ),
        fault(
            "a line break and doubled quotes inside of quotes",
            "bow,at,shots,note\n\"Grey recurve\",2027-02-28,30,\"one\n\"\"two\"\", three\"\n",
            Reads(1, ",30,practice,\"one\n\"\"two\"\", three\","),
        ),
        fault(
            "a quote that is never closed",
            "bow,at,shots,note\nGrey recurve,2027-02-28,30,\"one\nGrey recurve,2027-02-28,9,\n",
            Refused(&[("/lines/2", "unclosed_quote")]),
        ),
    ]
}

/// What its columns are called, and how much there is.
fn shape() -> Vec<Fault> {
    vec![
        fault(
            "columns in another order and language, and one too many",
            "Wetter;Pfeile;Datum;Bogen\nSonne;30;28.2.2027;grey recurve\n",
            Reads(1, ",2027-02-28,30,practice,,"),
        ),
        fault(
            "columns that are missing",
            "bow,weather\nGrey recurve,sun\n",
            Refused(&[("/lines/1/at", "missing_column"), ("/lines/1/shots", "missing_column")]),
        ),
        fault(
            "a column twice",
            "bow,at,shots,Arrows\nGrey recurve,2027-02-28,30,31\n",
            Refused(&[("/lines/1/Arrows", "repeated_column")]),
        ),
        fault(
            "a cell too few",
            "bow,at,shots\nGrey recurve,2027-02-28\n",
            Refused(&[("/lines/2", "refused"), ("/lines/2/shots", "refused")]),
        ),
        fault("an empty file", "", Reads(0, "")),
        fault("names of columns alone", "bow,at,shots\n", Reads(0, "")),
        fault("blank lines at the end", format!("{PLAIN}\n\n,,,\n"), ZOE),
        fault("too many rows", format!("a\n{}", "1\n".repeat(100_001)), Told(413, "100000 rows")),
        fault("too many bytes", vec![b'x'; 10 * 1024 * 1024 + 1], Told(413, "bytes")),
        fault(
            "half good, half bad",
            "bow,at,shots\nGrey recurve,2027-02-28,30\nGrey recurve,2027-02-28,0\n\
             Blue bow,2027-02-28,x\n",
            Refused(&[
                ("/lines/3/shots", "refused"),
                ("/lines/4/bow", "refused"),
                ("/lines/4/shots", "refused"),
            ]),
        ),
        fault("a workbook", b"PK\x03\x04\x14\x00", Told(415, "save its sheet as CSV")),
        fault("a web page", "<!DOCTYPE html>\n<table></table>", Told(415, "a web page")),
    ]
}

/// Days that could be two.
fn days() -> Vec<Fault> {
    let file = "bow,at,shots\nGrey recurve,1/2/2027,30\n";
    let read = |name, query, file: &str, answered| Fault {
        name,
        query,
        file: file.as_bytes().to_vec(),
        answered,
    };
    vec![
        fault("a day that could be two", file, Refused(&[("/lines/2/at", "ambiguous_dates")])),
        read("told that the day is first", "&dates=day_first", file, Reads(1, ",2027-02-01,30,")),
        read("told that the month is", "&dates=month_first", file, Reads(1, ",2027-01-02,30,")),
        fault(
            "shown by another row",
            format!("{file}Grey recurve,28/2/2027,9\n"),
            Reads(2, ",2027-02-01,30,"),
        ),
        fault(
            "shown both ways",
            format!("{file}Grey recurve,28/2/2027,9\nGrey recurve,2/27/2027,9\n"),
            Refused(&[("/lines/4/at", "mixed_dates")]),
        ),
    ]
}

fn check(fault: &Fault, answer: &Answer, club: &Club) {
    let name = fault.name;
    let exported = export(club.owner(), "shot_logs");
    let lines = exported.matches("Grey recurve").count();
    match &fault.answered {
        Reads(new, held) => {
            let report = answer.expect(200);
            assert_eq!(rows(&report), [*new, *new, 0, 0], "{name}: {report}");
            assert!(exported.contains(held), "{name}: {exported}");
        }
        Refused(expected) => {
            let problem = answer.problem(422);
            let errors = problem["errors"].as_array().unwrap().iter();
            let found: Vec<(&str, &str)> = errors
                .map(|one| (one["pointer"].as_str().unwrap(), one["code"].as_str().unwrap()))
                .collect();
            assert_eq!(found, *expected, "{name}: {problem}");
            assert_eq!(lines, 0, "{name} left something");
        }
        Told(status, words) => {
            let detail = answer.problem(*status)["detail"].to_string();
            assert!(detail.contains(words), "{name}: {detail}");
            assert_eq!(lines, 0, "{name} left something");
        }
    }
}

/// Takes what a file left out of the way of the next, which is of a bow of its own.
fn forget(owner: &Person, bow: &str) {
    for log in owner.get("/shot-logs").expect(200)["data"].as_array().unwrap() {
        let path = format!("/shot-logs/{}", log["id"].as_str().unwrap());
        assert_eq!(owner.delete(&path, "*").status, 200);
    }
    let renamed = json!({"name": format!("Done with {bow}")});
    owner.patch(&format!("/bows/{bow}"), "*", &renamed).expect(200);
}

#[test]
fn each_file_is_read_or_refused_as_its_line_says() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        for fault in writing().into_iter().chain(shape()).chain(days()) {
            let bow = Kit::bow(owner, None);
            let query = format!("table=shot_logs&dry_run=false{}", fault.query);
            let answer = send(owner, &query, &fault.file);
            check(&fault, &answer, &club);
            forget(owner, &bow);
        }
    });
}

#[test]
fn numbers_have_a_comma_where_cells_are_parted_by_semicolons() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let german = "name;division;bow_length_in;draw_weight_lbf\nOne;recurve;68;36,5\n";
        let report = send(owner, "table=bows&dry_run=false", german).expect(200);
        assert_eq!(report["decimal_mark"], "comma or point");
        assert_eq!((&report["delimiter"], rows(&report)), (&json!("semicolon"), [1, 1, 0, 0]));
        assert!(export(owner, "bows").contains(",One,recurve,68,36.5,"));
        let quoted = german.replace("36,5", "\"36,5\"").replace(';', ",");
        send(owner, "table=bows&dry_run=false", quoted).refuses(
            422,
            "/lines/2/draw_weight_lbf",
            "refused",
        );
    });
}

#[test]
fn a_file_of_another_kind_or_cut_off_on_the_way_leaves_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        Kit::of(&club, owner, None);
        let path = "/api/v1/import?table=shot_logs&dry_run=false";
        let json = owner.send("POST", path, Some(("application/json", PLAIN.as_bytes())));
        assert_eq!(json.problem(415)["type"], "/problems/not-csv");

        let file = PLAIN.repeat(50);
        let cut = file.len() * 6 / 10;
        let host = club.base().trim_start_matches("http://");
        let mut line = TcpStream::connect(host).unwrap();
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nAuthorization: Bearer {}\r\n\
             Content-Type: text/csv\r\nContent-Length: {}\r\n\r\n",
            owner.token().unwrap(),
            file.len()
        );
        line.write_all(head.as_bytes()).unwrap();
        line.write_all(&file.as_bytes()[..cut]).unwrap();
        line.shutdown(Shutdown::Write).unwrap();
        let mut answer = String::new();
        drop(line.read_to_string(&mut answer));
        assert!(!answer.contains("200 OK"), "{answer}");
        assert_eq!(export(owner, "shot_logs").lines().count(), 1);
        let whole = send(owner, "table=shot_logs&dry_run=false", PLAIN).expect(200);
        assert_eq!(rows(&whole), [1, 1, 0, 0]);
    });
}
