//! Work done on parts. It comes in as it was: that a serving was wound anew retires none here, since the
//! parts and their stays have files of their own.

use std::collections::BTreeMap;

use domain::{
    ids::UpkeepId,
    parts::PartKind,
    upkeep::{Finding, Grade, Upkeep, UpkeepError, UpkeepTask, looked_for},
};
use store::{Read, StoreError, Tx};
use uuid::Uuid;

use domain::text::Note;

use super::{
    Written,
    cells::Cells,
    columns::{Column, column},
    import::Rows,
    known::Known,
    writing::Cell,
};

pub(super) struct Upkeeps;

impl Rows for Upkeeps {
    type Value = Upkeep;

    const COLUMNS: &'static [Column] = &[
        column("id", &["upkeep_id"]),
        column("part_id", &[]),
        column("part", &["part_name", "teil", "pièce", "onderdeel", "pieza"]).aside(),
        column("task", &["work", "arbeit", "travail", "werk", "tarea"]).needed(),
        column("at", &["date", "when", "datum", "fecha"]).dated().needed(),
        column("findings", &["found", "befund", "constats", "bevindingen", "hallazgos"]),
        column("measured_mm", &["measured", "gemessen_mm", "mesuré_mm", "gemeten_mm", "medido_mm"]),
        column("clears", &["freigegeben"]),
        column("note", &["notes", "notiz", "remarque", "opmerking", "nota"]),
        column("entered_by", &["by", "eingetragen_von", "saisi_par", "ingevoerd_door"]).aside(),
    ];

    fn all(read: &mut Read<'_>, known: &Known) -> Result<Vec<Upkeep>, StoreError> {
        store::upkeep::of_club(read, known.actor.club)
    }

    fn id(work: &Upkeep) -> Uuid {
        work.id.0
    }

    fn set_id(work: &mut Upkeep, id: Uuid) {
        work.id = UpkeepId(id);
    }

    fn cells(work: &Upkeep, known: &Known) -> Vec<Cell> {
        let found = |(finding, grade): (&Finding, &Grade)| format!("{finding}={}", grade.number());
        let findings: Vec<String> = work.findings.iter().map(found).collect();
        vec![
            Cell::plain(work.id),
            Cell::plain(work.part_id),
            Cell::text(known.part_name(work.part_id)),
            Cell::plain(work.task),
            Cell::plain(work.at),
            Cell::plain(findings.join("; ")),
            Cell::plain_if(work.measured_mm),
            Cell::plain(if work.clears { "yes" } else { "no" }),
            Cell::text(work.note.as_str()),
            Cell::text_if(known.address(work.entered_by)),
        ]
    }

    fn parse(cells: &mut Cells<'_>, known: &Known, id: Uuid) -> Option<Upkeep> {
        let part = known.part(cells, ("part_id", "part"));
        if cells.text("part_id").is_none() && cells.text("part").is_none() {
            cells.refuse("part_id", "give part_id, or a name that only one part has");
        }
        let task = cells.word("task", UpkeepTask::parse, UpkeepTask::ALL);
        let at = cells.moment("at");
        let findings = cells.parse_if("findings", findings).unwrap_or_default();
        if !findings.is_empty() && task.is_some_and(|task| task != UpkeepTask::Inspected) {
            cells.refuse("findings", UpkeepError::NotInspected);
        }
        let kind = part.and_then(|part| known.parts.get(&part)).map(|part| part.kind);
        if let Some(kind) = kind {
            check_kind(cells, kind, task, &findings);
        }
        let measured = task.zip(cells.number("measured_mm"));
        let measured_mm = measured
            .and_then(|(task, length_mm)| cells.take("measured_mm", task.measured(length_mm)));
        let note = cells.parse_if("note", Note::parse).unwrap_or_default();
        let entered_by = known.entered_by(cells);
        let clears = cells.yes("clears");
        let retired = part.and_then(|part| known.parts.get(&part)?.retirement.as_ref());
        if let Some(retired) = retired.filter(|retired| at.is_some_and(|at| at > retired.at)) {
            cells.refuse("at", format!("the part was retired on {}", retired.at));
        }
        let work = Upkeep::new(UpkeepId(id), part?, task?, at?, entered_by?);
        // Taken as told when it was done, like incidents.
        let work = Upkeep { findings, measured_mm, note, ..work };
        // An owner brings it in, and says for each whether it lifted what forbade shooting.
        let may_clear = work.clone().judged_by(true).clears;
        if clears && !may_clear {
            let reason = "goes only with an inspection that has a note and found nothing unsafe";
            cells.refuse("clears", reason);
        }
        Some(Upkeep { clears, ..work })
    }

    fn write(tx: &mut Tx<'_>, known: &Known, works: &[Upkeep]) -> Result<Vec<Written>, StoreError> {
        let mut written = Vec::with_capacity(works.len());
        for work in works {
            // Every part that a row names was found.
            if let Some(part) = known.parts.get(&work.part_id) {
                store::upkeep::record(tx, known.actor.club, part, work)?;
            }
            written.push(Ok(true));
        }
        Ok(written)
    }
}

/// Refuses work and findings that do not belong to a part of that kind.
fn check_kind(
    cells: &mut Cells<'_>,
    kind: PartKind,
    task: Option<UpkeepTask>,
    findings: &BTreeMap<Finding, Grade>,
) {
    if let Some(task) = task {
        cells.take("task", task.done_on(kind));
    }
    for finding in findings.keys() {
        let passed = looked_for(*finding, kind).map_err(|error| format!("{finding}: {error}"));
        cells.take("findings", passed);
    }
}

/// What was found, as `cut_strand=3; dry_strands=1`.
fn findings(text: &str) -> Result<BTreeMap<Finding, Grade>, String> {
    let mut found = BTreeMap::new();
    for one in text.split([';', ',']).map(str::trim).filter(|one| !one.is_empty()) {
        let form = "must be of the form cut_strand=3; dry_strands=1";
        let (finding, grade) = one.split_once(['=', ':']).ok_or(form)?;
        let finding = Finding::parse(finding.trim()).ok_or_else(|| {
            let all: Vec<&str> = Finding::ALL.iter().map(|finding| finding.as_str()).collect();
            format!("{:?} is none of {}", finding.trim(), all.join(", "))
        })?;
        let grade = grade.trim().parse::<i64>().ok().and_then(Grade::new);
        let grade = grade.ok_or_else(|| UpkeepError::Grade.to_string())?;
        if found.insert(finding, grade).is_some() {
            return Err(UpkeepError::FoundTwice.to_string());
        }
    }
    Ok(found)
}
