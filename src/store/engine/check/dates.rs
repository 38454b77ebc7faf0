//! The dated papers against the book: every year's statement and kind, and every statement handed out.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use super::{Fault, fault};
use crate::{
    domain::{
        book::{
            Account, Amount, Entry, MovementKind, Vessel,
            course::{Step, course},
        },
        waste::{
            container::{Container, Contents},
            year_statement::{Figure, YearStatement},
        },
    },
    store::{Error, book as stored_book, site::sites, waste::given_statements},
};

/// Where a statement and the book do not agree.
pub(super) async fn wrong(conn: &mut SqliteConnection, containers: &[Container]) -> Result<Vec<Fault>, Error> {
    let Some(site) = sites::find(conn).await? else { return Ok(Vec::new()) };
    let source = stored_book::WasteSource::find(conn).await?;
    let mut faults = Vec::new();
    let year_of = |entry: &Entry| entry.happened_at.local(&site.zone).date().year();
    let theirs: Vec<(Container, Vec<Entry>)> = containers
        .iter()
        .map(|one| {
            let vessel = Vessel::Container(one.id);
            (one.clone(), source.entries.iter().filter(|entry| entry.touches(vessel)).cloned().collect())
        })
        .collect();
    let courses: Vec<Course<'_>> = theirs
        .iter()
        .map(|(one, entries)| Course { contents: one.contents, steps: course(Vessel::Container(one.id), entries) })
        .collect();
    let mut last: Option<YearStatement> = None;
    for year in source.years(&site.zone, i16::MIN) {
        let said = source.statement(year, &site.zone);
        let mut wrong = |what: String| faults.push(fault(format!("the statement of {year}"), what));
        for (contents, line) in &said.lines {
            if !line.balances() {
                wrong(format!("its line of {} does not add up", contents.as_str()));
            }
        }
        let stood = stood_at_the_end(&courses, |entry| year_of(entry) <= year);
        let gone = gone(&courses, |entry| year_of(entry) == year);
        for contents in Contents::ALL {
            let of = |said: &YearStatement, figure| {
                said.lines
                    .iter()
                    .find(|(kind, _)| *kind == contents)
                    .map_or(Amount::NOTHING, |(_, line)| line.figure(figure))
            };
            let by_book = |sums: &BTreeMap<Contents, Amount>| sums.get(&contents).copied().unwrap_or_default();
            if of(&said, Figure::End) != by_book(&stood) {
                wrong(format!("its end of {} is not what then stood in containers", contents.as_str()));
            }
            if of(&said, Figure::Removed) != by_book(&gone) {
                wrong(format!(
                    "what it says was removed of {} is not what the book’s removals took",
                    contents.as_str()
                ));
            }
            if last.as_ref().is_some_and(|last| of(last, Figure::End) != of(&said, Figure::Start)) {
                wrong(format!("its start of {} is not the end of the year before", contents.as_str()));
            }
        }
        last = Some(said);
    }
    for given in given_statements::list(conn).await? {
        let then = source.clone().through(given.last_entry).statement(given.said.year, &site.zone);
        if !then.changed_since(&given.said).is_empty() {
            let place = format!("the statement of {} given to {}", given.said.year, given.to);
            faults.push(fault(place, "does not say what the book said when it was given"));
        }
    }
    Ok(faults)
}

/// What stood in the containers of each kind after what happened until then, each added up for itself.
fn stood_at_the_end(courses: &[Course<'_>], until: impl Fn(&Entry) -> bool) -> BTreeMap<Contents, Amount> {
    let mut stood: BTreeMap<Contents, Amount> = BTreeMap::new();
    for course in courses {
        let last = course.steps.iter().take_while(|step| until(step.entry)).last();
        *stood.entry(course.contents).or_default() += last.map_or(Amount::NOTHING, |step| step.after);
    }
    stood
}

/// What removals took from the containers of each kind.
fn gone(courses: &[Course<'_>], which: impl Fn(&Entry) -> bool) -> BTreeMap<Contents, Amount> {
    let mut gone: BTreeMap<Contents, Amount> = BTreeMap::new();
    for course in courses {
        for step in &course.steps {
            let leaves = step.entry.kind == MovementKind::Removal && step.entry.to == Account::Removed;
            if leaves && which(step.entry) {
                *gone.entry(course.contents).or_default() += step.entry.amount;
            }
        }
    }
    gone
}

/// What stood in a container over time.
struct Course<'a> {
    contents: Contents,
    steps: Vec<Step<'a>>,
}
