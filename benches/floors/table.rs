//! What was measured, as a plain table of medians and ratios.

use std::{fmt, time::Duration};

use crate::rounds::{Asked, Sample, Samples, Slot, Who};

/// Rows of text under a head; the first column is set left, all others right.
pub(crate) struct Table {
    rows: Vec<Vec<String>>,
}

const HEAD: [&str; 9] =
    ["", "conn.", "per s", "x fdatasync", "x bare actix", "p50 ms", "p99 ms", "CPU us", "bytes"];

impl Table {
    /// All slots; `names` are those of the servers.
    pub(crate) fn of(samples: &Samples, names: &[&str]) -> Self {
        let mut rows = vec![HEAD.map(str::to_owned).to_vec()];
        let raw: Vec<f64> = samples.values().flatten().filter_map(|one| one.raw_per_s).collect();
        let mut row = vec!["raw 4 KiB append + fdatasync".to_owned(), "1".to_owned()];
        row.push(spread(&raw, 0));
        row.resize(HEAD.len(), String::new());
        rows.push(row);
        rows.extend(samples.iter().map(|(slot, found)| row_of(samples, *slot, found, names)));
        Self { rows }
    }
}

fn row_of(samples: &Samples, slot: Slot, found: &[Sample], names: &[&str]) -> Vec<String> {
    let asked = match slot.asked {
        Asked::Log => "POST /api/v1/shot-logs",
        Asked::Due => "GET /api/v1/due",
    };
    let who = match slot.who {
        Who::Bare => "bare actix",
        Who::Server(place) => names.get(place).copied().unwrap_or_default(),
    };
    let raw: Vec<f64> =
        found.iter().filter_map(|one| one.raw_per_s.map(|raw| one.load.per_s / raw)).collect();
    let floor = samples.get(&Slot { who: Who::Bare, ..slot });
    let bare: Vec<f64> = match (slot.who, floor) {
        (Who::Server(_), Some(floor)) => {
            found.iter().zip(floor).map(|(one, floor)| one.load.per_s / floor.load.per_s).collect()
        }
        _ => Vec::new(),
    };
    let ms = |pick: fn(&Sample) -> Duration| {
        let all: Vec<f64> = found.iter().map(|one| pick(one).as_secs_f64() * 1_000.0).collect();
        format!("{:.2}", median(&all))
    };
    let per_s: Vec<f64> = found.iter().map(|one| one.load.per_s).collect();
    let used: Vec<f64> =
        found.iter().map(|one| one.load.processor.as_secs_f64() * 1_000_000.0).collect();
    vec![
        format!("{asked}, {who}"),
        slot.connections.to_string(),
        format!("{:.0}", median(&per_s)),
        spread(&raw, 2),
        spread(&bare, 3),
        ms(|one| one.load.p50),
        ms(|one| one.load.p99),
        format!("{:.0}", median(&used)),
        found.last().map_or_else(String::new, |last| last.load.bytes.to_string()),
    ]
}

/// The median, and the least and the greatest of the rounds.
fn spread(all: &[f64], digits: usize) -> String {
    if all.is_empty() {
        return String::new();
    }
    let least = all.iter().copied().fold(f64::INFINITY, f64::min);
    let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    format!("{:.digits$} ({least:.digits$}..{most:.digits$})", median(all))
}

/// The middle one, or the mean of the two in the middle; zero of none.
pub(crate) fn median(all: &[f64]) -> f64 {
    let mut sorted = all.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let at = |place: usize| sorted.get(place).copied().unwrap_or_default();
    match sorted.len() {
        0 => 0.0,
        n => f64::midpoint(at((n - 1) / 2), at(n / 2)),
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let width = |column: usize| {
            let cells = self.rows.iter().filter_map(|row| row.get(column));
            cells.map(|cell| cell.chars().count()).max().unwrap_or_default()
        };
        let widths: Vec<usize> = (0..HEAD.len()).map(width).collect();
        for row in &self.rows {
            for (column, (cell, &width)) in row.iter().zip(&widths).enumerate() {
                if column == 0 {
                    write!(f, "{cell:<width$}")?;
                } else {
                    write!(f, "  {cell:>width$}")?;
                }
            }
            writeln!(f)?;
        }
        Ok(())
    }
}
