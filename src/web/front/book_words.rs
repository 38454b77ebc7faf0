//! The silver book in words: amounts, accounts, lines of a table.

use std::collections::HashMap;

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::{Account, Entry, MovementKind, Vessel, written},
        ids::{MovementId, PersonId},
        measure::volume,
    },
    store::{Error, baths::batches, people::names as people, waste::containers},
};

use super::vessel_acts::path_of;

/// What vessels are called, with their pages, and people.
pub(super) struct BookWords {
    vessels: HashMap<Vessel, String>,
    people: HashMap<PersonId, String>,
    zone: TimeZone,
}

/// A line of a table of entries.
pub(super) struct EntryLine {
    pub number: i64,
    pub happened: String,
    /// When it was written, if that was another day or hour.
    pub recorded: String,
    pub kind: &'static str,
    pub from: (String, String),
    pub to: (String, String),
    pub volume: String,
    pub silver: String,
    pub basis: &'static str,
    pub by: String,
    pub remark: String,
    pub reverses: Option<i64>,
    /// The entry that took it back.
    pub taken_back: Option<i64>,
    /// The page on which it can be taken back; empty when it cannot.
    pub take_back: String,
}

/// The entries of one batch or container, newest first, as many as a page shows.
pub(super) struct EntriesPage {
    pub lines: Vec<EntryLine>,
    /// The number before which older ones begin; nothing when all are shown.
    pub older: Option<i64>,
    /// Whether the newest are shown.
    pub newest: bool,
}

/// How many entries the page of a batch or a container shows.
const ON_A_PAGE: usize = 50;

/// The number in an address before which older entries are asked for: `before=120`.
pub(super) fn asked_before(query: &str) -> Option<i64> {
    let mut asked = form_urlencoded::parse(query.as_bytes());
    asked.find(|(name, _)| name == "before").and_then(|(_, value)| value.parse().ok())
}

impl BookWords {
    /// Everything there is to name.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn find(conn: &mut SqliteConnection, zone: &TimeZone) -> Result<Self, Error> {
        let batches = batches::list(conn).await?.into_iter().map(|one| (Vessel::Batch(one.id), one.name()));
        let containers = containers::list(conn).await?.into_iter().map(|one| (Vessel::Container(one.id), one.name()));
        Ok(Self {
            vessels: batches.chain(containers).collect(),
            people: people::list_names(conn).await?,
            zone: zone.clone(),
        })
    }

    /// An account with its page, if it has one.
    pub fn account(&self, account: Account) -> (String, String) {
        match account.vessel() {
            Some(vessel) => {
                (self.vessels.get(&vessel).cloned().unwrap_or_else(|| account.word().to_owned()), path_of(vessel))
            }
            None => (account.word().to_owned(), String::new()),
        }
    }

    /// What somebody is called.
    pub fn person(&self, person: PersonId) -> String {
        self.people.get(&person).cloned().unwrap_or_else(|| "no longer on record".to_owned())
    }

    /// Lines for a table, in the order given. `reversed_by` maps an entry to the one that took it
    /// back.
    pub fn lines<'a>(
        &self,
        entries: impl IntoIterator<Item = &'a Entry>,
        reversed_by: &HashMap<i64, i64>,
    ) -> Vec<EntryLine> {
        entries.into_iter().map(|entry| self.line(entry, reversed_by.get(&entry.number).copied())).collect()
    }

    /// The newest of these entries, given oldest first, before a number.
    pub fn page_of(&self, entries: &[Entry], before: Option<i64>) -> EntriesPage {
        let asked = entries.iter().rev().filter(|entry| before.is_none_or(|before| entry.number < before));
        let mut shown: Vec<&Entry> = asked.take(ON_A_PAGE + 1).collect();
        let more = shown.len() > ON_A_PAGE;
        shown.truncate(ON_A_PAGE);
        EntriesPage {
            older: shown.last().filter(|_| more).map(|entry| entry.number),
            newest: before.is_none(),
            lines: self.lines(shown, &reversed_by(entries)),
        }
    }

    fn line(&self, entry: &Entry, taken_back: Option<i64>) -> EntryLine {
        let (happened, recorded) = (entry.happened_at.as_words(&self.zone), entry.recorded_at.as_words(&self.zone));
        let can = taken_back.is_none() && entry.reverses.is_none();
        EntryLine {
            number: entry.number,
            recorded: if recorded == happened { String::new() } else { recorded },
            happened,
            kind: entry.kind.as_str(),
            from: self.account(entry.from),
            to: self.account(entry.to),
            volume: volume::in_words(entry.amount.volume_ul),
            silver: written::grams_if_known(entry.amount.silver, entry.basis),
            basis: entry.basis.as_str(),
            by: self.person(entry.recorded_by),
            remark: entry.remark.clone(),
            reverses: entry.reverses,
            taken_back,
            take_back: if can { take_back_path(entry.movement) } else { String::new() },
        }
    }
}

/// Which entry took which one back.
pub(super) fn reversed_by(entries: &[Entry]) -> HashMap<i64, i64> {
    entries.iter().filter_map(|entry| entry.reverses.map(|reversed| (reversed, entry.number))).collect()
}

/// Where a movement is taken back.
pub(super) fn take_back_path(movement: MovementId) -> String {
    format!("/front/waste/book/{movement}")
}

/// What a movement is, said to somebody about to take it back.
pub(super) fn consequence(kind: MovementKind) -> &'static str {
    match kind {
        MovementKind::Mixing => {
            "The batch will be put away empty, as if it had never been mixed; its concentrate counts on the shelf again."
        }
        MovementKind::Retiring => "The batch will be in use again, with what it held; the container gives it back.",
        MovementKind::Removal => "The container will be here again, with what it held.",
        MovementKind::Sheet => "The sheets no longer load their batches, until they are recorded again.",
        MovementKind::Reading => "The book goes back to its own estimate.",
        _ => "What was moved goes back to where it was.",
    }
}
