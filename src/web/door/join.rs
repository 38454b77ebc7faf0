//! Joining a section: door code, roster number, family name. No list of names is ever shown.

use std::sync::atomic::Ordering;

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::StudentId,
        instant::Instant,
        people::{actor::Actor, family_name::is_family_name, section::Section, student::Student},
    },
    store::{
        self, WriteError,
        people::{
            change_log, students,
            walk_ins::{self, MOST_WALK_INS},
        },
    },
    web::{
        kit::{
            caller::Caller,
            error::WebError,
            frame::Frame,
            known_browser::{self, KnownFor},
            seat_keys::FreshKey,
            shown_once::{AfterWrite, Shown, What},
            slowdown::Pace,
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{
    beginning::{Beginning, Who},
    sheet::{Sheet, Way},
};

const NO_MATCH: &str =
    "no seat matches this door code, roster number and family name; check all three, or ask the front bench";
const TAKEN: &str = "this name is taken: use your seat key, or ask the front bench to free it";
const TOO_MANY: &str = "many people without a roster number came in already: ask the front bench";
const NAME_ASKED: &str = "type your name: this section takes people who are not on the roster";

/// What was typed.
#[derive(Clone, Debug)]
struct Joining {
    door_code: String,
    roster_number: String,
    family_name: String,
    full_name: String,
}

impl Joining {
    fn read(posted: &Posted) -> Result<Self, FieldErrors> {
        let mut reader = posted.reader();
        let door_code = reader.text("door_code", 0..=20);
        if door_code.as_deref().is_some_and(|typed| plain_code(typed).is_empty()) {
            reader.wrong("door_code", "type the code on the lab door");
        }
        let roster_number = reader.text("roster_number", 0..=40);
        let family_name = reader.text("family_name", 0..=120);
        let full_name = reader.text("full_name", 0..=120);
        // all that is missing is said at once; a walk-in leaves the roster number empty, but never the door code
        let empty = |read: &Option<String>| read.as_deref().is_some_and(|typed| typed.trim().is_empty());
        let asks_name =
            !posted.get("full_name").is_empty() || posted.fields().iter().any(|(name, _)| name == "full_name");
        let no_code = door_code.as_deref().is_some_and(|typed| plain_code(typed).is_empty());
        if no_code && empty(&roster_number) && !asks_name {
            reader.wrong("roster_number", "type your roster number; without one, ask the front bench");
        }
        if (no_code || !empty(&roster_number)) && empty(&family_name) && !asks_name {
            reader.wrong("family_name", "type your family name as it stands on the roster");
        }
        reader.finish((|| {
            Some(Self {
                door_code: plain_code(&door_code?),
                roster_number: roster_number?,
                family_name: family_name?,
                full_name: full_name?,
            })
        })())
    }
}

/// A door code as it is stored: capitals, without spaces and hyphens.
fn plain_code(typed: &str) -> String {
    typed.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect()
}

/// A roster number as people type it: leading zeros and case are forgiven.
fn plain_number(typed: &str) -> String {
    typed.trim().trim_start_matches('0').to_uppercase()
}

/// The one student meant: the number to the letter, or else the only one that is near enough.
fn find_seat<'a>(roster: &'a [Student], number: &str) -> Option<&'a Student> {
    if let Some(exact) = roster.iter().find(|student| student.roster_number == number) {
        return Some(exact);
    }
    let mut near = roster.iter().filter(|student| plain_number(&student.roster_number) == plain_number(number));
    near.next().filter(|_| near.next().is_none())
}

/// Who is joining.
#[derive(Clone, Debug)]
enum Seat {
    OnRoster(StudentId),
    WalkIn(Student),
}

/// Joins.
pub async fn join(
    State(state): State<AppState>,
    caller: Caller,
    frame: Frame,
    jar: CookieJar,
    posted: Posted,
) -> Result<Response, WebError> {
    let typed = match Joining::read(&posted) {
        Ok(typed) => typed,
        Err(errors) => return Ok(Sheet::refused(frame, Way::Join, &posted, errors).into_response()),
    };
    // by where they come from and in all, never by the code: whoever guesses tries another one each time
    let tries = format!("code@{}", caller.key());
    let trying = match state.slowdown.begin((&tries, Pace::ADDRESS), Some(("code", Pace::DOOR)), &state.world).await {
        Ok(trying) => trying,
        Err(wait) => return Ok(Sheet::waiting(frame, Way::Join, &posted, wait)),
    };

    let mut conn = state.store.read().await?;
    let section = store::people::sections::find_by_door_code(&mut conn, &typed.door_code).await?;
    let walks_in = typed.roster_number.is_empty() && section.as_ref().is_some_and(|section| section.walk_ins);
    let seat = match section {
        Some(section) if walks_in => {
            trying.right();
            if typed.full_name.is_empty() {
                let errors = FieldErrors::one("full_name", NAME_ASKED);
                return Ok(Sheet::asking_name(frame, &posted, errors).into_response());
            }
            Seat::WalkIn(walk_in(&state, &section, typed.full_name.clone()))
        }
        section if typed.roster_number.is_empty() => {
            // a right code without a number is a slip, a wrong one a guess
            if section.is_some() {
                trying.right();
            }
            let errors = FieldErrors::one("roster_number", "type your roster number; without one, ask the front bench");
            return Ok(Sheet::refused(frame, Way::Join, &posted, errors).into_response());
        }
        section => match on_roster(&mut conn, section, &typed).await? {
            // whether the name is taken is decided inside the write: an impatient second click of
            // the form that took it must get its receipt
            Some(student) => {
                trying.right();
                Seat::OnRoster(student.id)
            }
            None => {
                let errors = FieldErrors::whole(NO_MATCH);
                return Ok(Sheet::refused(frame, Way::Join, &posted, errors).into_response());
            }
        },
    };
    drop(conn);

    let beginning = Beginning::of(&state, &jar, &posted);
    let _turn = state.hashing.turn(&tries).await?;
    match take(&state, &beginning, seat, posted.at()).await {
        Ok(landing) => {
            let jar = known_browser::mark(&state, jar, KnownFor::Seat, &beginning.token_hash()).await;
            Ok(beginning.go_on(&state, jar, &landing))
        }
        Err(error) => Ok(Sheet::after(frame, Way::Join, &posted, error)?.into_response()),
    }
}

async fn on_roster(
    conn: &mut SqliteConnection,
    section: Option<Section>,
    typed: &Joining,
) -> Result<Option<Student>, store::Error> {
    let Some(section) = section else { return Ok(None) };
    let roster = students::list(conn, section.id).await?;
    let found = find_seat(&roster, &typed.roster_number);
    Ok(found.filter(|student| is_family_name(&typed.family_name, &student.name)).cloned())
}

fn walk_in(state: &AppState, section: &Section, name: String) -> Student {
    Student {
        id: state.mint(),
        section: section.id,
        // given when it is stored, so that two at once get two numbers
        roster_number: String::new(),
        name,
        email: String::new(),
        walk_in: true,
        joined_at: None,
        left_at: None,
        inches: false,
        version: 1,
    }
}

/// Gives the seat its key and begins the sign-in.
async fn take(state: &AppState, beginning: &Beginning, seat: Seat, at: Instant) -> Result<String, WriteError> {
    let fresh = FreshKey::draw(state).await?;
    let shown = Shown { what: What::SeatKey, whose: String::new(), text: fresh.key.to_string() };
    let showing = AfterWrite::to(beginning.token_hash(), shown);
    let (whose, ran) = (beginning.clone(), showing.ran());
    let landing = state
        .store
        .write(beginning.stamp(), move |tx| {
            Box::pin(async move {
                let student = match seat {
                    Seat::OnRoster(id) => students::find(tx, id).await?.ok_or(WriteError::Missing("this seat"))?,
                    Seat::WalkIn(student) => {
                        if walk_ins::count(tx, student.section, at).await?.in_all >= MOST_WALK_INS {
                            return Err(FieldErrors::one("full_name", TOO_MANY).into());
                        }
                        let roster_number = students::next_walk_in_number(tx, student.section).await?;
                        let student = Student { roster_number, ..student };
                        students::insert(tx, &student, at).await?;
                        student
                    }
                };
                if student.left_at.is_some() {
                    return Err(FieldErrors::whole(NO_MATCH).into());
                }
                if student.joined_at.is_some() {
                    return Err(FieldErrors::whole(TAKEN).into());
                }
                students::update_seat_key(tx, student.id, &fresh.hash, at).await?;
                whose.store(tx, Who::Student(student.id)).await?;
                change_log::insert(tx, at, Actor::Student(student.id), "seat taken", "student", student.id, "").await?;
                ran.store(true, Ordering::SeqCst);
                Ok("/bench/key".to_owned())
            })
        })
        .await?;
    showing.put_up(&state.shown, at);
    Ok(landing)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_door_code_is_read_whatever_its_case_spaces_and_hyphens() {
        assert_eq!(plain_code(" quay-7 "), "QUAY7");
        assert_eq!(plain_number("007"), plain_number("7"));
        assert_eq!(plain_number("w1"), "W1");
    }
}
