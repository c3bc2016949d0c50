//! What files are read as, and where they are refused. Knows no table.

use super::*;

fn cells(text: &str) -> Vec<(u64, Vec<String>)> {
    let sheet = read(text.as_bytes()).unwrap();
    sheet.header.into_iter().chain(sheet.rows).map(|row| (row.line, row.cells)).collect()
}

fn check(text: &str, expected: &[(u64, &[&str])]) {
    let expected: Vec<(u64, Vec<String>)> = expected
        .iter()
        .map(|(line, cells)| (*line, cells.iter().map(|&cell| cell.to_owned()).collect()))
        .collect();
    assert_eq!(cells(text), expected, "{text:?}");
}

#[test]
fn lines_end_in_three_ways_and_blank_ones_are_none() {
    for end in ["\r\n", "\n", "\r"] {
        let text = format!("a,b{end}1,2{end}{end}, {end}3,4{end}{end}");
        check(&text, &[(1, &["a", "b"]), (2, &["1", "2"]), (5, &["3", "4"])]);
    }
    check("a,b\n1,2", &[(1, &["a", "b"]), (2, &["1", "2"])]);
    check("", &[]);
    check("\n\r\n\r", &[]);
}

#[test]
fn the_delimiter_is_what_the_first_line_has_most_of() {
    check("a;b\n1,5;2\n", &[(1, &["a", "b"]), (2, &["1,5", "2"])]);
    check("a\tb\n1;2\t3\n", &[(1, &["a", "b"]), (2, &["1;2", "3"])]);
    check("\"a,b,c\";d\n1;2\n", &[(1, &["a,b,c", "d"]), (2, &["1", "2"])]);
    check("sep=;\r\na,b;c\r\n1;2\r\n", &[(2, &["a,b", "c"]), (3, &["1", "2"])]);
    check("alone\n1\n", &[(1, &["alone"]), (2, &["1"])]);
}

#[test]
fn quotes_hold_lines_delimiters_and_doubled_quotes() {
    check(
        "a,b\n\"one\r\ntwo\",\"say \"\"hi\"\", now\"\n68\",x\n\"\",\n1,2\n",
        &[
            (1, &["a", "b"]),
            (2, &["one\r\ntwo", "say \"hi\", now"]),
            (4, &["68\"", "x"]),
            (6, &["1", "2"]),
        ],
    );
}

#[test]
fn a_fault_is_named_with_its_place() {
    let check = |text: &str, line: u64, character: u64, code: &str| {
        let Err(Refusal::Unreadable(problems)) = read(text.as_bytes()) else { panic!("{text}") };
        let found = (problems[0].line, problems[0].character, problems[0].code);
        assert_eq!(found, (line, Some(character), code), "{text}");
    };
    check("a,b\n1,\"two\n3,4\n", 2, 3, "unclosed_quote");
    check("a,b\r1,2\r\"x\"y,2", 3, 4, "text_after_quote");
    check("a,b\n\"1\n2\",\"3\"4\n", 3, 7, "text_after_quote");
}

#[test]
fn what_is_no_csv_is_told_what_it_is() {
    for (bytes, words) in [
        (&b"PK\x03\x04rest"[..], "workbook"),
        (b"\xD0\xCF\x11\xE0", "old workbook"),
        (b"%PDF-1.7", "PDF"),
        (b"\xEF\xBB\xBF \n<!DOCTYPE html><html>", "web page"),
        (b"<table><tr>", "web page"),
    ] {
        let Err(Refusal::NotCsv(advice)) = read(bytes) else { panic!("{bytes:?}") };
        assert!(advice.contains(words), "{advice}");
    }
}

#[test]
fn a_file_has_at_most_so_many_bytes_and_rows() {
    let rows = |n: usize| format!("a\n{}", "1\n".repeat(n));
    assert_eq!(read(rows(MOST_ROWS).as_bytes()).unwrap().rows.len(), MOST_ROWS);
    assert!(matches!(read(rows(MOST_ROWS + 1).as_bytes()), Err(Refusal::TooLarge(_))));
    let long = vec![b'x'; MOST_BYTES + 1];
    assert!(matches!(read(&long), Err(Refusal::TooLarge(_))));
}

/// The one-block example of FIPS 180-4 that NIST publishes: the message `abc`, from memory.
#[test]
fn a_file_is_known_by_its_sha_256() {
    let known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(read(b"abc").unwrap().sha256, known);
}
