//! What a fresh install still needs before the first evening, step by step.

use sqlx::SqliteConnection;

use crate::{
    domain::evening::lab_session::SessionState,
    store::{
        Error,
        evening::lab_sessions,
        people::{sections, students},
        site::sites,
        stock::papers,
    },
};

/// Where the setting up stands: shown on the front bench's pages until the first session is open.
#[derive(Clone, Debug, Default)]
pub struct FirstSteps {
    /// Every step with its page; empty when nothing is left to do.
    pub steps: Vec<Step>,
}

/// One step.
#[derive(Clone, Debug)]
pub struct Step {
    /// In a word or two.
    pub name: &'static str,
    /// What there is to do, as a link.
    pub words: &'static str,
    /// Where it is done; empty when something before it is missing.
    pub path: String,
    /// Whether it is done.
    pub done: bool,
}

impl FirstSteps {
    /// The first step not done.
    pub fn next(&self) -> Option<&Step> {
        self.steps.iter().find(|step| !step.done)
    }

    /// Whether this is the step to do next.
    pub fn is_next(&self, step: &&Step) -> bool {
        self.next().is_some_and(|next| next.name == step.name)
    }
}

/// Finds out what is there. Looks at the newest section, which is the one being set up.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection) -> Result<FirstSteps, Error> {
    let site = sites::find(conn).await?.is_some();
    let stocked = !papers::list(conn).await?.is_empty();
    let section = sections::list(conn).await?.into_iter().next();
    let (mut rostered, mut session, mut opened) = (false, None, false);
    let (mut section_path, mut session_path) = (String::new(), String::new());
    if let Some(section) = &section {
        section_path = format!("/front/sections/{}", section.id);
        rostered = section.walk_ins || !students::list(conn, section.id).await?.is_empty();
        let sessions = lab_sessions::list(conn, section.id).await?;
        opened = sessions.iter().any(|session| session.state != SessionState::Planned);
        session = sessions.into_iter().next();
    }
    if let Some(session) = &session {
        session_path = format!("/front/sessions/{}", session.id);
    }
    if opened {
        return Ok(FirstSteps::default());
    }
    let under = |path: &str, rest: &str| if path.is_empty() { String::new() } else { format!("{path}{rest}") };
    let step = |name, words, path: String, done| Step { name, words, path, done };
    Ok(FirstSteps {
        steps: vec![
            step("Site", "Set up the site", "/front/site".to_owned(), site),
            step(
                "Stockroom",
                "Stock paper and chemistry",
                if site { "/front/stockroom".to_owned() } else { String::new() },
                stocked,
            ),
            step(
                "Section",
                "Make a section with its door code",
                if site { "/front/sections/new".to_owned() } else { String::new() },
                section.is_some(),
            ),
            step("Roster", "Put students on the roster", under(&section_path, "/roster/import"), rostered),
            step("Session", "Plan the first session", under(&section_path, "/sessions/new"), session.is_some()),
            step("Cards and door", "Print the cards, open the session", session_path, opened),
        ],
    })
}
