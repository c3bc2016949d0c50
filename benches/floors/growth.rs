//! What grows with the ledger and what does not: the board, a log and a correction of a log of a year
//! ago, on clubs that differ in nothing but how many logs they have.

use std::{
    io::{self, Write},
    time::Duration,
};

use store::{DatabaseUrl, Store, StoreError, testing::Fresh};
use tokio::runtime::Runtime;

use crate::{
    client::Script,
    clubs::{self, Seeded},
    rounds::{Plan, checked},
    subject::{Logs, serve, sign_in},
    table::median,
};

/// A kind of database, and how an empty one is made.
pub(crate) type Backend = (&'static str, fn() -> Fresh);

/// Corrections go to so many of the oldest logs, in turn.
const CORRECTED: usize = 200;

/// How long answers took on one club, the median of each round, in milliseconds.
struct Took {
    board: Vec<f64>,
    log: Vec<f64>,
    correction: Vec<f64>,
}

/// Measures one database after another at each of these sizes, and prints ratios to the first size.
pub(crate) fn run(
    out: &mut impl Write,
    runtime: &Runtime,
    plan: &Plan,
    sizes: &[u64],
    databases: &[Backend],
) -> anyhow::Result<()> {
    writeln!(
        out,
        "A club of {} bows with 3 parts each, its logs spread over a year. One connection, {} rounds of \
         {:?}; the middle one of the rounds' medians, in ms, and its ratio to the first size.\n",
        clubs::DUE_BOWS,
        plan.rounds,
        plan.lasting
    )?;
    writeln!(
        out,
        "{:<11}{:>10}  {:>16}{:>16}{:>16}{:>18}",
        "", "logs", "GET /board", "POST a log", "PATCH a log", "PATCH to POST"
    )?;
    for (name, fresh) in databases {
        let mut first = None;
        for &size in sizes {
            let took = measure(runtime, plan, &fresh(), size)?;
            let [board, log, correction] =
                [&took.board, &took.log, &took.correction].map(|all| median(all));
            let [base_board, base_log, base_correction] =
                *first.get_or_insert([board, log, correction]);
            let cell = |ms: f64, base: f64| format!("{ms:.2} ({:.2})", ms / base);
            writeln!(
                out,
                "{name:<11}{size:>10}  {:>16}{:>16}{:>16}{:>18}",
                cell(board, base_board),
                cell(log, base_log),
                cell(correction, base_correction),
                format!("{:.2}", correction / log)
            )?;
        }
    }
    Ok(())
}

fn measure(runtime: &Runtime, plan: &Plan, fresh: &Fresh, size: u64) -> anyhow::Result<Took> {
    let store = Store::open(&fresh.url)?;
    let now = crate::subject::now();
    let seeded = runtime.block_on(clubs::asking_alone(&store, now))?;
    fresh.execute(&planted(&fresh.url, size));
    let club = seeded.club;
    runtime.block_on(store.write::<_, StoreError, _>(move |tx| store::doctor::mend(tx, club)))?;
    fresh.execute("ANALYZE");
    let (address, handle) = serve(runtime, store)?;
    let mut took = Took { board: Vec::new(), log: Vec::new(), correction: Vec::new() };
    for _ in 0..plan.rounds {
        let token = sign_in(address, clubs::ASKER)?;
        let ms = |script: &dyn Script| {
            let load = checked(address, 1, plan.lasting, script)?;
            anyhow::Ok(load.p50.as_secs_f64() * 1_000.0)
        };
        let asks = Board { token: token.clone() };
        checked(address, 1, Duration::from_millis(200), &asks)?;
        took.board.push(ms(&asks)?);
        took.log.push(ms(&logs(&token, &seeded))?);
        took.correction.push(ms(&Corrections { token })?);
    }
    runtime.block_on(handle.stop(true));
    Ok(took)
}

fn logs(token: &str, seeded: &Seeded) -> Logs {
    Logs { token: token.to_owned(), bows: seeded.bows.clone(), now: crate::subject::now() }
}

/// Statements that plant so many logs, the oldest a year ago, with the numbers from 1 on as their ids:
/// they are given to the bows in turn. What is derived of them is counted afterwards.
fn planted(url: &DatabaseUrl, size: u64) -> String {
    let each = size / u64::try_from(clubs::DUE_BOWS).unwrap_or(1);
    let columns = "club_id, id, bow_id, at, stated_at, date_only, skew_s, shots, kind, note, \
                   entered_by_member_id, received_at, corrects_id, seq, void, counts, merged_into_id";
    let bows = format!(
        "in_turn AS (SELECT club_id, id, ROW_NUMBER() OVER (ORDER BY id) AS place FROM bows LIMIT {})",
        clubs::DUE_BOWS
    );
    match url {
        DatabaseUrl::Sqlite(_) => format!(
            "WITH RECURSIVE n (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < {each}),
                 {bows}, times AS (SELECT i, (CAST(strftime('%s', 'now') AS INTEGER) - 31536000
                 + 31535000 * i / {each}) * 1000000 AS at FROM n)
             INSERT INTO shot_logs ({columns})
             SELECT in_turn.club_id, unhex(printf('%032x', i * {bows_in_all} + place)), in_turn.id, at, at, 0,
                 NULL, 36, 'practice', '', (SELECT id FROM members LIMIT 1), at, NULL, 0, 0, 1, NULL
             FROM times, in_turn",
            bows_in_all = clubs::DUE_BOWS
        ),
        DatabaseUrl::Postgres(_) => format!(
            "WITH n AS (SELECT generate_series(0, {each} - 1) AS i), {bows},
                 times AS (SELECT i, now() - interval '31536000 seconds'
                 + interval '31535000 seconds' * i / {each} AS at FROM n)
             INSERT INTO shot_logs ({columns})
             SELECT in_turn.club_id, lpad(to_hex(i::bigint * {bows_in_all} + place), 32, '0')::uuid, in_turn.id,
                 at, at, false, NULL, 36, 'practice', '', (SELECT id FROM members LIMIT 1), at, NULL, 0,
                 false, true, NULL
             FROM times, in_turn",
            bows_in_all = clubs::DUE_BOWS
        ),
    }
}

struct Board {
    token: String,
}

impl Script for Board {
    fn write(&self, _connection: usize, _turn: usize, request: &mut Vec<u8>) -> io::Result<()> {
        let token = &self.token;
        write!(
            request,
            "GET /api/v1/board HTTP/1.1\r\nHost: floors\r\nAuthorization: Bearer {token}\r\n\r\n"
        )
    }
}

/// Corrections of the oldest logs: each says another count than the one before.
struct Corrections {
    token: String,
}

impl Script for Corrections {
    fn write(&self, _connection: usize, turn: usize, request: &mut Vec<u8>) -> io::Result<()> {
        let (log, shots) = (turn % CORRECTED + 1, 30 + turn / CORRECTED % 40);
        let body = format!(r#"{{"shots":{shots}}}"#);
        write!(
            request,
            "PATCH /api/v1/shot-logs/{} HTTP/1.1\r\nHost: floors\r\nAuthorization: Bearer {}\r\n\
             If-Match: *\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            uuid::Uuid::from_u128(log as u128),
            self.token,
            body.len()
        )
    }
}
