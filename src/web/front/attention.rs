//! What somebody at the front bench should look at, for its first page. Chemistry and waste add
//! theirs from their own pages.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::batch::Slot,
        evening::lab_session::{LabSession, SessionState},
        instant::Instant,
        people::section::Section,
        site::Site,
    },
    store::{
        Error,
        baths::{tray_lines, tray_slots},
        people::walk_ins,
        site::site_rules,
        stock::{papers, products},
    },
};

/// A session open longer than this was probably forgotten.
const LONGEST_EVENING_MICROS: i64 = 12 * 3_600_000_000;

/// From so many walk-ins on it is worth a look (our own judgement).
const MANY_WALK_INS: i64 = 6;

/// One thing to look at.
pub struct Attention {
    /// What it is.
    pub words: String,
    /// Where it is looked after.
    pub path: String,
    /// The link's words.
    pub link: String,
}

/// What the site has not entered, and what its stockroom lacks.
///
/// # Errors
/// When the database cannot be used.
pub async fn of_site(conn: &mut SqliteConnection, site: &Site) -> Result<Vec<Attention>, Error> {
    let mut found = Vec::new();
    let mut missing = Vec::new();
    if site.emergency_line.is_empty() {
        missing.push("the emergency line");
    }
    if site.disposal_contact.is_empty() {
        missing.push("the disposal contact");
    }
    if site_rules::list(conn).await?.is_empty() {
        missing.push("a rule for when waste must be gone");
    }
    if !missing.is_empty() {
        found.push(Attention {
            words: format!("Not entered: {}. Ask your safety office.", missing.join(", ")),
            path: "/front/site".to_owned(),
            link: "Open the site".to_owned(),
        });
    }
    if !papers::list(conn).await?.is_empty() && products::list(conn).await?.is_empty() {
        found.push(Attention {
            words: "The stockroom has paper but no developer, stop bath or fixer.".to_owned(),
            path: "/front/stockroom".to_owned(),
            link: "Open the stockroom".to_owned(),
        });
    }
    Ok(found)
}

/// Trays of an open session without which no sheet is developed, and in which nothing stands.
///
/// # Errors
/// When the database cannot be used.
pub async fn of_trays(
    conn: &mut SqliteConnection,
    session: &LabSession,
    now: Instant,
) -> Result<Option<Attention>, Error> {
    let Some(line) = session.tray_line.filter(|_| session.state.is_open()) else { return Ok(None) };
    let standing = tray_slots::list_standing(conn, line, now).await?;
    let empty =
        [Slot::Developer, Slot::Fixer].into_iter().filter(|slot| standing.iter().all(|stay| stay.slot != *slot));
    let empty: Vec<&str> = empty.map(Slot::as_str).collect();
    if empty.is_empty() {
        return Ok(None);
    }
    let name = tray_lines::find(conn, line).await?.map_or_else(String::new, |line| line.name);
    Ok(Some(Attention {
        words: format!("{} is open, and in {name} there is no {}.", session.title, empty.join(" and no ")),
        path: "/front/chemistry".to_owned(),
        link: "Set a batch in".to_owned(),
    }))
}

/// People who came into an open session without standing on the roster, once they are more than a few: the door code may
/// have gone round.
///
/// # Errors
/// When the database cannot be used.
pub async fn of_walk_ins(
    conn: &mut SqliteConnection,
    session: &LabSession,
    now: Instant,
) -> Result<Option<Attention>, Error> {
    let walk_ins = walk_ins::count(conn, session.section, now).await?;
    if !session.state.is_open() || walk_ins.in_all < MANY_WALK_INS {
        return Ok(None);
    }
    Ok(Some(Attention {
        words: format!("{}: {}", session.title, walk_ins.words()),
        path: format!("/front/sessions/{}/floor", session.id),
        link: "Open the floor".to_owned(),
    }))
}

/// A session that was forgotten open, or not opened.
pub fn of_session(session: &LabSession, section: &Section, now: Instant, site: &Site) -> Option<Attention> {
    let today = now.local(&site.zone).date();
    let which = format!("{}, {}", section.name, session.title);
    let words = match session.state {
        SessionState::Open { opened_at } if now.micros_since(opened_at) > LONGEST_EVENING_MICROS => {
            format!("{which}: open since {}. Close it when the evening is over.", opened_at.as_words(&site.zone))
        }
        SessionState::Planned if session.held_on == today => format!("{which}: is held today and not open yet."),
        SessionState::Planned if session.held_on < today => {
            format!("{which}: its date is past and it was never opened.")
        }
        _ => return None,
    };
    Some(Attention { words, path: format!("/front/sessions/{}", session.id), link: "Open its page".to_owned() })
}
