//! Reminders.

mod list;

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId, EventId, MailId, MemberId, PartId, ReminderId, RuleId},
    reminders::{About, Reminder, ReminderState},
    rules::RuleTask,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
    dialect::on_each,
    schema::reminders,
    sql_types::{Key, Utc},
};

pub(crate) use list::people_of;
pub use list::{Filter, list};

/// So many keys in one statement: far below the number of values that either database takes.
const AT_ONCE: usize = 500;
/// The kind of a reminder that something must not be shot.
const STOP: &str = "stop";
/// The state of a reminder that was not true any more.
const CANCELLED: &str = ReminderState::Cancelled.as_str();

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = reminders, treat_none_as_default_value = false)]
struct ReminderRow {
    club_id: Key,
    id: Key,
    kind: String,
    rule_id: Option<Key>,
    task: Option<String>,
    part_id: Option<Key>,
    bow_id: Option<Key>,
    event_id: Option<Key>,
    recipient_member_id: Key,
    stage: String,
    cycle: String,
    reason: String,
    dedupe_key: String,
    state: String,
    raised_at: Utc,
    mail_id: Key,
    answered_at: Option<Utc>,
    snoozed_until: Option<Utc>,
    told: Option<String>,
}

impl ReminderRow {
    fn bad(&self, column: &'static str, found: &str) -> StoreError {
        let (table, found) = ("reminders", found.to_owned());
        StoreError::Inconsistent { table, column, id: self.id.0, found }
    }

    fn about(&self) -> Result<About, StoreError> {
        let part = self.part_id.map(|part| PartId(part.0));
        let bow = self.bow_id.map(|bow| BowId(bow.0));
        match (self.kind.as_str(), part, bow, self.event_id) {
            ("maintenance", Some(part), Some(bow), _) => {
                let rule = self.rule_id.ok_or_else(|| self.bad("rule_id", "none"))?;
                let task = self.task.as_deref().unwrap_or_default();
                let task = RuleTask::parse(task).ok_or_else(|| self.bad("task", task))?;
                Ok(About::Work { rule: RuleId(rule.0), task, part, bow })
            }
            ("stop", Some(part), Some(bow), _) => Ok(About::Stop { part, bow }),
            ("stop", None, Some(bow), _) => Ok(About::BowStop { bow }),
            ("bench", None, None, None) => Ok(About::Bench),
            ("silence", None, Some(bow), None) => Ok(About::Silence { bow }),
            ("event", _, bow, Some(event)) => Ok(About::Event { event: EventId(event.0), bow }),
            (kind, ..) => Err(self.bad("kind", kind)),
        }
    }
}

impl TryFrom<ReminderRow> for Reminder {
    type Error = StoreError;

    fn try_from(row: ReminderRow) -> Result<Self, StoreError> {
        Ok(Self {
            id: ReminderId(row.id.0),
            about: row.about()?,
            recipient: MemberId(row.recipient_member_id.0),
            state: ReminderState::parse(&row.state).ok_or_else(|| row.bad("state", &row.state))?,
            stage: row.stage,
            cycle: row.cycle,
            reason: row.reason,
            dedupe_key: row.dedupe_key,
            raised_at: row.raised_at.0,
            mail_id: MailId(row.mail_id.0),
        })
    }
}

/// A reminder, and what its recipient answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// The reminder.
    pub reminder: Reminder,
    /// When they answered.
    pub answered_at: Option<Timestamp>,
    /// Until when they want to hear no more of it.
    pub snoozed_until: Option<Timestamp>,
}

impl TryFrom<ReminderRow> for Listed {
    type Error = StoreError;

    fn try_from(row: ReminderRow) -> Result<Self, StoreError> {
        let answered_at = row.answered_at.map(|at| at.0);
        let snoozed_until = row.snoozed_until.map(|at| at.0);
        Ok(Self { reminder: row.try_into()?, answered_at, snoozed_until })
    }
}

/// The states in which a reminder stands in the way of the same one: it was told, or is about to be. What
/// was answered does not, if it is found to be true again: the work was taken back, or the bow is theirs
/// after all.
const STANDING: [&str; 2] = [ReminderState::Raised.as_str(), ReminderState::Sent.as_str()];

/// Raises a reminder, unless the same one was raised before. One that was cancelled or answered is raised
/// again: what it said was untrue for a while and is true once more. One that was put off is raised again
/// when that time is over. Says whether it is raised now.
pub fn raise(tx: &mut Tx<'_>, club: ClubId, reminder: &Reminder) -> Result<bool, StoreError> {
    let same = reminders::club_id
        .eq(Key(club.0))
        .and(reminders::dedupe_key.eq(&reminder.dedupe_key))
        .and(reminders::state.ne_all(STANDING));
    let over = reminders::state
        .ne(ReminderState::Snoozed.as_str())
        .or(reminders::snoozed_until.is_null())
        .or(reminders::snoozed_until.le(Utc(reminder.raised_at)).assume_not_null());
    let revived = diesel::update(reminders::table.filter(same.and(over)))
        .set((
            reminders::state.eq(reminder.state.as_str()),
            reminders::reason.eq(&reminder.reason),
            reminders::raised_at.eq(Utc(reminder.raised_at)),
            reminders::mail_id.eq(Key(reminder.mail_id.0)),
            reminders::answered_at.eq(None::<Utc>),
            reminders::snoozed_until.eq(None::<Utc>),
        ))
        .execute(tx.conn())?;
    if revived == 1 {
        return Ok(true);
    }
    let about = reminder.about;
    let (rule, task, event) = match about {
        About::Work { rule, task, .. } => (Some(rule), Some(task), None),
        About::Stop { .. } | About::BowStop { .. } | About::Bench | About::Silence { .. } => {
            (None, None, None)
        }
        About::Event { event, .. } => (None, None, Some(event)),
    };
    let row = ReminderRow {
        club_id: Key(club.0),
        id: Key(reminder.id.0),
        kind: about.kind().to_owned(),
        rule_id: rule.map(|rule| Key(rule.0)),
        task: task.map(|task| task.as_str().to_owned()),
        part_id: about.part().map(|part| Key(part.0)),
        bow_id: about.bow().map(|bow| Key(bow.0)),
        event_id: event.map(|event| Key(event.0)),
        recipient_member_id: Key(reminder.recipient.0),
        stage: reminder.stage.clone(),
        cycle: reminder.cycle.clone(),
        reason: reminder.reason.clone(),
        dedupe_key: reminder.dedupe_key.clone(),
        state: reminder.state.as_str().to_owned(),
        raised_at: Utc(reminder.raised_at),
        mail_id: Key(reminder.mail_id.0),
        answered_at: None,
        snoozed_until: None,
        told: None,
    };
    let added = on_each!(tx.conn(), c => {
        diesel::insert_into(reminders::table).values(row).on_conflict_do_nothing().execute(c)
    })?;
    Ok(added == 1)
}

/// Which of these keys belong to reminders that are raised or were told: nobody is told of them again.
/// What is put off is told by [`crate::answers::snoozed`].
pub fn raised(
    read: &mut Read<'_>,
    club: ClubId,
    keys: &[String],
) -> Result<BTreeSet<String>, StoreError> {
    let mut found = BTreeSet::new();
    for keys in keys.chunks(AT_ONCE) {
        let known: Vec<String> = reminders::table
            .filter(reminders::club_id.eq(Key(club.0)).and(reminders::dedupe_key.eq_any(keys)))
            .filter(reminders::state.eq_any(STANDING))
            .select(reminders::dedupe_key)
            .order(reminders::dedupe_key)
            .load(read.conn())?;
        found.extend(known);
    }
    Ok(found)
}

/// When each of these reminders was told of, as far as its mail went out.
pub fn told_at(
    read: &mut Read<'_>,
    club: ClubId,
    keys: &[String],
) -> Result<BTreeMap<String, Timestamp>, StoreError> {
    let untold = [ReminderState::Raised, ReminderState::Cancelled].map(ReminderState::as_str);
    let mut found = BTreeMap::new();
    for keys in keys.chunks(AT_ONCE) {
        let told: Vec<(String, Utc)> = reminders::table
            .filter(reminders::club_id.eq(Key(club.0)).and(reminders::dedupe_key.eq_any(keys)))
            .filter(reminders::state.ne_all(untold))
            .select((reminders::dedupe_key, reminders::raised_at))
            .order(reminders::dedupe_key)
            .load(read.conn())?;
        found.extend(told.into_iter().map(|(key, at)| (key, at.0)));
    }
    Ok(found)
}

/// Who was told of which stop of which bow, by a reminder of the bow itself or of a part under it that was
/// not cancelled since: bow, cycle and recipient.
pub fn stops_told(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &[BowId],
) -> Result<BTreeSet<(BowId, String, MemberId)>, StoreError> {
    let theirs = reminders::bow_id.eq_any(bows.iter().map(|bow| Some(Key(bow.0))));
    let rows: Vec<(Option<Key>, String, Key)> = reminders::table
        .filter(reminders::club_id.eq(Key(club.0)).and(theirs.assume_not_null()))
        .filter(reminders::kind.eq(STOP).and(reminders::state.ne(CANCELLED)))
        .select((reminders::bow_id, reminders::cycle, reminders::recipient_member_id))
        .order(reminders::id)
        .load(read.conn())?;
    let told =
        |(bow, cycle, to): (Option<Key>, String, Key)| Some((BowId(bow?.0), cycle, MemberId(to.0)));
    Ok(rows.into_iter().filter_map(told).collect())
}

/// One reminder.
pub fn get(read: &mut Read<'_>, club: ClubId, reminder: ReminderId) -> Result<Listed, StoreError> {
    reminders::table
        .find((Key(club.0), Key(reminder.0)))
        .select(ReminderRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "reminder" })?
        .try_into()
}

/// What a mail carries, in the order it was raised.
pub fn of_mail(
    read: &mut Read<'_>,
    club: ClubId,
    mail: MailId,
) -> Result<Vec<Reminder>, StoreError> {
    reminders::table
        .filter(reminders::club_id.eq(Key(club.0)).and(reminders::mail_id.eq(Key(mail.0))))
        .select(ReminderRow::as_select())
        .order(reminders::id)
        .load(read.conn())?
        .into_iter()
        .map(Reminder::try_from)
        .collect()
}

/// Says where a reminder stands now that its mail went out, or will not. What was answered meanwhile
/// stays as it is.
pub fn set_state(
    tx: &mut Tx<'_>,
    club: ClubId,
    reminder: ReminderId,
    state: ReminderState,
) -> Result<(), StoreError> {
    let there = get(tx, club, reminder)?;
    let answered = reminders::answered_at.is_not_null();
    diesel::update(reminders::table.find((Key(club.0), Key(there.reminder.id.0))))
        .filter(diesel::dsl::not(answered))
        .set(reminders::state.eq(state.as_str()))
        .execute(tx.conn())?;
    Ok(())
}
