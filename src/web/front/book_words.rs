//! The silver book in words: amounts, accounts, lines of a table.

use std::collections::HashMap;

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    calc::working::figures,
    domain::{
        book::{Account, Entry, MovementKind, Silver, Vessel},
        ids::{MovementId, PersonId},
        volume,
    },
    store::{Error, batches, containers, people},
};

use super::vessel_acts::path_of;

/// Silver in grams with its range: `2.40 g (0.87 to 3.99)`; milligrams when it is little.
pub(super) fn silver(silver: Silver) -> String {
    with_range(silver, 1e6, "g", 1e3, "mg")
}

/// A concentration (micrograms a litre) in grams a litre with its range.
pub(super) fn concentration(silver: Silver) -> String {
    with_range(silver, 1e6, "g/L", 1e3, "mg/L")
}

fn with_range(silver: Silver, unit: f64, sign: &str, small: f64, small_sign: &str) -> String {
    let most = silver.most_ug();
    if most == 0 {
        return format!("0 {sign}");
    }
    let (unit, sign) = if (most as f64) < unit / 10.0 { (small, small_sign) } else { (unit, sign) };
    let said = |ug: i64| figures(ug as f64 / unit, 3);
    if silver.least_ug() == most {
        return format!("{} {sign}", said(most));
    }
    format!("{} {sign} ({} to {})", said(silver.best_ug), said(silver.least_ug()), said(most))
}

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
            silver: silver(entry.amount.silver),
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
        MovementKind::Mixing => "The batch will be put away empty, as if it had never been mixed.",
        MovementKind::Retiring => "The batch will be in use again, with what it held; the container gives it back.",
        MovementKind::Removal => "The container will be here again, with what it held.",
        MovementKind::Sheet => "The sheets no longer load their batches, until they are recorded again.",
        MovementKind::Reading => "The book goes back to its own estimate.",
        _ => "What was moved goes back to where it was.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silver_is_said_with_its_range_in_the_unit_that_fits() {
        let silver_of = |best_ug, low_ug, high_ug| silver(Silver { best_ug, low_ug, high_ug });
        assert_eq!(silver_of(2_403_000, 867_000, 3_989_000), "2.40 g (0.867 to 3.99)");
        assert_eq!(silver_of(12_516, 4_516, 20_774), "12.5 mg (4.52 to 20.8)");
        assert_eq!(silver_of(800_000, 800_000, 800_000), "0.800 g");
        assert_eq!(silver_of(0, 0, 0), "0 g");
        // out of order after a reversal: still a range
        assert_eq!(silver_of(1_000_000, 1_500_000, 700_000), "1.00 g (0.700 to 1.50)");
    }
}
