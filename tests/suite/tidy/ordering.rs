//! Every list query has an order: the two databases return unordered rows in different order.
//!
//! Read from the text of `store/src`. A query that needs no order says why, on one of its lines:
//! `// unordered: <reason>`.

use super::source::{blank_rust, closing, is_marked, is_word, line_of, words};
use super::{read, rust_files};

const LOADS: &[&str] = &["load", "load_iter", "get_results"];
const MARK: &str = "// unordered:";

fn unordered_queries(path: &str, text: &str) -> Vec<String> {
    let code = blank_rust(text);
    let mut calls: Vec<_> = LOADS.iter().flat_map(|name| calls(&code, name)).collect();
    calls.sort_unstable();
    calls
        .into_iter()
        .filter(|call| !is_ordered(text, &code, call))
        .map(|call| format!("{path}:{}: a list without an order", line_of(text, call.0)))
        .collect()
}

/// Method calls of that name, as (position of the dot, position of the closing bracket).
fn calls(code: &str, name: &str) -> Vec<(usize, usize)> {
    words(code, name)
        .into_iter()
        .filter_map(|at| {
            let dot = code[..at].trim_end().len().checked_sub(1)?;
            let after = code[at + name.len()..].trim_start();
            let is_call = after.starts_with("::<") || after.starts_with('(');
            let open = at + code[at..].find('(')?;
            (code.as_bytes()[dot] == b'.' && is_call)
                .then(|| closing(code, open).map(|close| (dot, close)))?
        })
        .collect()
}

fn is_ordered(text: &str, code: &str, &(dot, close): &(usize, usize)) -> bool {
    let start = chain_start(code, dot);
    let chain = &code[start..dot];
    let arguments = &code[dot..=close];
    // An atomic's `load` is no query.
    arguments.contains("Ordering::")
        || has_order(chain, &text[start..dot])
        || is_marked(text, start, close, MARK)
        || names_in(chain).any(|name| is_ordered_where_defined(text, code, dot, name))
}

/// Rows that a change returns are the change's own, not a list: they need no order.
fn has_order(chain: &str, text: &str) -> bool {
    let sql = text.to_ascii_uppercase();
    ["order", "order_by", "returning"].iter().any(|method| !words(chain, method).is_empty())
        || ["ORDER BY", "RETURNING"].iter().any(|clause| sql.contains(clause))
}

/// Where the expression begins whose method is called at `dot`: back over calls, paths, generics.
fn chain_start(code: &str, dot: usize) -> usize {
    let bytes = code.as_bytes();
    let mut at = dot;
    while at > 0 {
        at = match bytes[at - 1] {
            b')' | b']' | b'}' => match opening(code, at - 1) {
                // A block before it is another statement, unless a call or a struct goes on after it.
                Some(open) if bytes[at - 1] != b'}' || code[at..].trim_start().starts_with('.') => {
                    open
                }
                _ => break,
            },
            b'>' if at > 1 && !matches!(bytes[at - 2], b'=' | b'-') => {
                match code[..at].rfind("::<") {
                    Some(open) => open,
                    None => break,
                }
            }
            b'.' | b':' | b'?' | b'&' | b'!' => at - 1,
            byte if byte.is_ascii_whitespace() => {
                let before = code[..at].trim_end().len();
                let joins = code[at..].trim_start().starts_with(['.', '?'])
                    || code[..before].ends_with(['.', ':']);
                if !joins {
                    break;
                }
                before
            }
            byte if is_word(byte) => at - 1,
            _ => break,
        };
    }
    at
}

/// Position of the bracket that is closed at `close`.
fn opening(code: &str, close: usize) -> Option<usize> {
    let mut depth = 0_usize;
    for (at, byte) in code.bytes().enumerate().take(close + 1).collect::<Vec<_>>().into_iter().rev()
    {
        match byte {
            b')' | b']' | b'}' => depth += 1,
            b'(' | b'[' | b'{' => depth = depth.checked_sub(1)?,
            _ => continue,
        }
        if depth == 0 {
            return Some(at);
        }
    }
    None
}

/// Names that could stand for a query made earlier: the chain's own first word, or the text given
/// to `sql_query`.
fn names_in(chain: &str) -> impl Iterator<Item = &str> {
    let first = chain.trim_start().split(|letter: char| !word_letter(letter)).next();
    let given = chain.split_once("sql_query(").and_then(|(_, after)| {
        after.trim_start_matches('&').split(|l: char| !word_letter(l)).next()
    });
    first.into_iter().chain(given).filter(|name| !name.is_empty())
}

fn word_letter(letter: char) -> bool {
    letter.is_ascii() && is_word(letter as u8)
}

/// Whether a query or its text, kept under a name, got its order where it was made: a `let` or an
/// assignment in the same function, or a constant anywhere in the file.
fn is_ordered_where_defined(text: &str, code: &str, dot: usize, name: &str) -> bool {
    let function = words(&code[..dot], "fn").last().copied().unwrap_or(0);
    words(code, name).into_iter().any(|at| {
        let before = code[..at].trim_end();
        let after = code[at + name.len()..].trim_start();
        let is_const = ["const", "static"].iter().any(|word| before.ends_with(word));
        let is_local = (function..dot).contains(&at)
            && (before.ends_with("let")
                || before.ends_with("mut")
                || before.ends_with([';', '{', '}']));
        let is_given = after.starts_with(':') && !after.starts_with("::")
            || after.starts_with('=') && !after.starts_with("==");
        let end = statement_end(code, at);
        (is_const || is_local) && is_given && has_order(&code[at..end], &text[at..end])
    })
}

/// The `;` that ends the statement at `from`, brackets stepped over.
fn statement_end(code: &str, from: usize) -> usize {
    let mut at = from;
    while at < code.len() {
        match code.as_bytes()[at] {
            b'(' | b'[' | b'{' => at = closing(code, at).unwrap_or(code.len() - 1),
            b';' | b')' | b']' | b'}' => return at,
            _ => {}
        }
        at += 1;
    }
    code.len()
}

#[test]
fn every_list_query_has_an_order_or_a_reason() {
    let files = rust_files("store/src");
    super::none(
        &files.iter().flat_map(|path| unordered_queries(path, &read(path))).collect::<Vec<_>>(),
    );
}

#[test]
fn a_planted_query_without_an_order_is_caught() {
    let caught = |text: &str| {
        let found = unordered_queries("a.rs", text);
        assert_eq!(found.len(), 1, "{text}\n{found:?}");
        assert!(found[0].ends_with("a list without an order"), "{found:?}");
    };
    caught("fn f() { let rows = bows::table.filter(bows::name.eq(n)).load::<Row>(c)?; }");
    caught("fn f() { bows::table\n    .select(Row::as_select())\n    .get_results(c) }");
    // The order of another statement, of another function, or in a comment does not count.
    caught("fn f() { bows::table.order(bows::id).load(c)?; parts::table.load(c) }");
    caught("fn f() { bows::table.order(bows::id).load(c) }\nfn g() { parts::table.load(c) }");
    caught("fn f() { parts::table // .order(parts::id)\n    .load(c) }");
    caught("fn f() { let a = bows::table.order(bows::id); let b = bows::table; b.load(c) }");
    caught("fn a() { let q = t.order(x); }\nfn b(q: Q) { q.load(c) }");
    caught("fn f() { sql_query(\"SELECT 1\").load::<Row>(c) }");
    caught("const ROWS: &str = \"SELECT 1\";\nfn f() { sql_query(ROWS).load(c) }");
    caught("fn f() { on_each!(c, c => bows::table.into_boxed::<Pg>().load(c)) }");
    caught("fn f() { bows::table.load(c) } // unordered:");
    caught("fn f() { let x = X { a: 1 }; { t.order(x).load(c)?; } bows::table.load(c) }");
}

#[test]
fn an_ordered_or_explained_query_passes() {
    let passes = |text: &str| {
        let found = unordered_queries("a.rs", text);
        assert!(found.is_empty(), "{text}\n{found:?}");
    };
    passes("fn f() { bows::table\n    .order((bows::name, bows::id))\n    .load::<Row>(c)?; }");
    passes("fn f() { bows::table.order_by(bows::id).limit(5).get_results::<Row>(c) }");
    passes("fn f() { bows::table.filter(a.eq(X { b: 1 }.b)).order(bows::id).load(c) }");
    passes("fn f() { let mut q = t.order(x).into_boxed(); if y { q = q.filter(z); } q.load(c) }");
    passes("fn f() { let mut q = t.into_boxed(); if y { q = q.order(z); } q.load(c) }");
    passes("fn f() { bows::table.load(c)?; // unordered: summed right away\n }");
    passes("fn f() { sql_query(\"SELECT 1 ORDER BY 1\").bind::<Uuid, _>(x).load::<Row>(c) }");
    passes("fn f() { sql_query(ROWS).load(c) }\nconst ROWS: &str = \"SELECT 1 order by 1\";");
    passes("fn f() { diesel::insert_into(t).values(v).returning(t::all_columns).get_results(c) }");
    passes(
        "const TAKE: &str = \"UPDATE t SET a = 1 RETURNING id\";\nfn f() { sql_query(TAKE).load(c) }",
    );
    passes("fn f() { let n = COUNT.load(Ordering::Relaxed); bows::table.get_result(c) }");
    passes("fn load(c: C) { reload(c); load(c) }");
}
